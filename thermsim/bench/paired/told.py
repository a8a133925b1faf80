"""What is told of each run: its log, room, power, heat, dew, touch and warm-up, and what all that warns of."""

from __future__ import annotations

from typing import Any

from thermsim.bench.logs.log import told as log_told
from thermsim.bench.logs.runs import BenchRun
from thermsim.bench.paired.carried import POWER_WITHIN, carried, dew, power, touched
from thermsim.bench.paired.record import Record
from thermsim.bench.paired.warming import warmed
from thermsim.case.case import Case

Facts = dict[str, Any]


def settings_told(case: Case) -> Facts:
    """What the comparison was made by."""
    bench = case.spec.bench
    return {
        "window_s": bench.window, "repeatability_k": bench.repeatability, "calibration_k": bench.calibration,
        "paired": bench.paired, "moved": list(bench.moved), "same_watts": bench.same_watts,
        "settle_k": case.spec.run.settle,
    }  # fmt: skip


def run_told(case: Case, run: BenchRun, record: Record) -> Facts:
    """One run; `case` with the option that stood on the bench."""
    bench = case.spec.bench
    return {
        **log_told(run.log),
        "name": record.name, "stands": record.stands, "option": record.option, "state_since_s": record.since,
        "window_s": record.window, "room_degc": record.room_degc, "room_drift_k": record.room_drift,
        "watts": record.watts, "watts_ratio": record.watts_ratio, "state": record.state,
        "warm_up": warmed(record, case.spec.run.settle),
        "power": power(case, record), "heat": carried(case, record, bench), "dew": dew(case, record),
        "touch": touched(record, bench),
        "extrapolated": [name for name in record.channels if (end := record.end(name)) and end.extrapolated],
    }  # fmt: skip


def warnings_of_runs(facts: Facts) -> list[str]:
    """What each run's own readings warn of."""
    found = _unlike_load(facts)
    for run in facts["runs"]:
        name = run["name"]
        if run["warm_up"]["starts_cold"] is False:
            found.append(f"{name} did not start cold: its warm-up is told from where it stood")
        if run["power"] and not run["power"]["agrees"] and run["power"]["ratio"] is not None:
            found.append(
                f"{name}: the supply gave {run['power']['logged_w']:.1f} W, the case puts in "
                f"{run['power']['case_w']:.1f} W: more than 5 % apart, so look for watts that the case lacks"
            )
        if run["dew"] and not run["dew"]["dry"]:
            found.append(
                f"{name}: {run['dew']['coldest']} was {run['dew']['margin_k']:.1f} K over the room's dew point, "
                f"{run['dew']['dew_point_degc']:.1f} °C: surfaces may have been wet"
            )
        for touch in run["touch"]:
            if touch["over"]:
                found.append(
                    f"{name}: {touch['channel']} would be {touch['degc_at_25']:.0f} °C in a room of 25 °C, over "
                    f"{touch['limit_degc']:.0f} °C for {touch['material']} touched for {touch['contact_s']:g} s"
                )
        found += [f"{name}: {doubt}" for doubt in run["doubts"]]
    return found


def _unlike_load(facts: Facts) -> list[str]:
    """Whether the boxes were loaded otherwise after than before, beside what the case puts in."""
    if facts["settings"]["same_watts"]:
        bare = [run["name"] for run in facts["runs"] if not run["watts"]]
        return [f"no supply watts in {', '.join(bare)}: rises there are not scaled to the same watts"] if bare else []
    ratios = [
        [run["power"]["ratio"] for run in facts["runs"] if run["stands"] == stands and run["power"]]
        for stands in ("before", "after")
    ]
    if not all(ratios) or any(ratio is None for some in ratios for ratio in some):
        return []
    first, second = (sum(some) / len(some) for some in ratios)
    if not first or abs(second / first - 1) <= POWER_WITHIN:
        return []
    return [
        f"against the case's watts the supply gave {100 * abs(second / first - 1):.0f} % "
        f"{'more' if second > first else 'less'} after than before: where the parts themselves took unlike watts, "
        "compare with bench.same_watts = true"
    ]
