"""What samples tell: spread of every output, the share that passes, what decides it, and whether there are enough."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from thermsim.case.case import Case
from thermsim.model.arrays import Floats
from thermsim.studies.decide.draws import probability
from thermsim.studies.decide.states import verdicts
from thermsim.studies.sweep.one import room_left

Facts = dict[str, Any]
PERCENTILES = (5, 50, 95)
MOST_DRIVERS = 5
LEAST_CORRELATION = 0.1  # in size; weaker ones are not told from chance in a few hundred samples
BINS = 30  # of the histograms that figures draw
LONE = (
    ("noise", "with_room_dba", "dB(A)"),
    ("dew margin", "dew_margin_k", "K"),
    ("worst margin", "worst_margin_k", "K"),
)
FLOWS = (("speed", "speeds", ""), ("air", "air_m3_per_h", "m3/h"), ("coolant", "coolant_l_per_min", "L/min"))
STAGES = 4  # at which convergence is told, each of twice the samples of the one before


def outputs_told(case: Case, samples: Sequence[Facts]) -> Facts:
    """By output: mean, standard deviation, percentiles; with a limit or must-have, also the share of all that keeps it.

    A sample that has no steady state keeps to nothing.
    """
    told = [sample for sample in samples if "failed" not in sample]
    if not told:
        return {}
    passed = _passed(case, samples)
    found: Facts = {}
    for name, unit, values in _columns(told):
        low, middle, high = (float(np.percentile(values, share)) for share in PERCENTILES)
        counts, edges = np.histogram(values, BINS)
        found[name] = {
            "unit": unit, "mean": float(values.mean()), "sd": float(values.std(ddof=1)) if values.size > 1 else 0.0,
            "p05": low, "p50": middle, "p95": high, "histogram": {"edges": edges.tolist(), "counts": counts.tolist()},
            "limit": None, "pass_probability": None,
        }  # fmt: skip
    for verdict in verdicts(case, told[0]):
        name = _output_of(verdict)
        if name not in found or verdict["name"] not in passed:
            continue
        share = probability(int(passed[verdict["name"]].sum()), len(samples))
        bound = verdict["at_most"] if verdict["at_most"] is not None else verdict["at_least"]
        if found[name]["limit"] is None or share["share"] < found[name]["pass_probability"]:  # the stricter one
            found[name] |= {
                "limit": bound, "limit_is": "at most" if verdict["at_most"] is not None else "at least",
                "must": verdict["name"], "pass_probability": share["share"], "pass_low": share["low"],
                "pass_high": share["high"],
            }  # fmt: skip
    return found


def all_pass(case: Case, samples: Sequence[Facts]) -> Facts:
    """Share of samples that keep every limit and must-have that settled states tell, and how it came about.

    None where there is nothing to keep to. A sample that has no steady state keeps to nothing.
    """
    passed, settled = _passed(case, samples), np.array(["failed" not in sample for sample in samples])
    every = np.all([settled, *passed.values()], axis=0)
    counts = [max(1, len(samples) >> k) for k in range(STAGES - 1, -1, -1)]
    is_judged = bool(passed) or not settled.any()
    share = probability(int(every.sum()), len(samples)) if is_judged else {"share": None, "low": None, "high": None}
    return {
        "all_pass_probability": share["share"],
        "all_pass_low": share["low"],
        "all_pass_high": share["high"],
        "convergence": [
            {"count": count, "all_pass_probability": float(every[:count].mean()) if is_judged else None}
            for count in counts
        ],
        "judged": list(passed),
        "not_sampled": [
            name for name, must in case.spec.must_have.items() if name not in passed and f"{name} limit" not in passed
        ],
    }


def drivers(case: Case, samples: Sequence[Facts], amounts: Mapping[str, Floats]) -> list[Facts]:
    """Which inputs decide the limits and must-haves that some samples break, by rank correlation (Spearman, 1904).

    The most often broken first. `amounts`: of each input in every sample. Without any broken, those that decide the
    worst margin.
    """
    from scipy.stats import spearmanr

    rows = [k for k, sample in enumerate(samples) if "failed" not in sample]
    if len(rows) < MOST_DRIVERS:
        return []
    told = [{verdict["name"]: verdict for verdict in verdicts(case, samples[k])} for k in rows]
    asked: dict[str, Floats] = {}
    for name in told[0]:
        room = np.array([np.nan if (left := room_left(one[name])) is None else left for one in told])
        if 0 < (room < 0).mean() < 1:
            asked[name] = room
    if not asked and samples[rows[0]]["worst_margin_k"] is not None:
        asked["worst margin"] = np.array([samples[k]["worst_margin_k"] for k in rows])
    found: list[Facts] = []
    for name, room in asked.items():
        for one, values in amounts.items():
            if np.ptp(values[rows]) > 0 and np.ptp(room) > 0:
                correlation = float(spearmanr(values[rows], room).statistic)
                if abs(correlation) > LEAST_CORRELATION:
                    found.append({"of": name, "input": one, "rank_correlation": correlation})
    broken = {name: float((room < 0).mean()) for name, room in asked.items()}
    found.sort(key=lambda driver: (-broken[driver["of"]], -abs(float(driver["rank_correlation"]))))
    return [one for k, one in enumerate(found) if sum(e["of"] == one["of"] for e in found[:k]) < MOST_DRIVERS]


def _passed(case: Case, samples: Sequence[Facts]) -> dict[str, Any]:
    """By limit and must-have that a settled state tells: which samples keep it."""
    told = next((sample for sample in samples if "failed" not in sample), None)
    if told is None:
        return {}
    kept: list[dict[str, bool | None]] = [
        {} if "failed" in sample else {verdict["name"]: verdict["met"] for verdict in verdicts(case, sample)}
        for sample in samples
    ]
    every = [verdict["name"] for verdict in verdicts(case, told)]
    names = [name for name in every if all(one.get(name, False) is not None for one in kept)]
    return {name: np.array([bool(one.get(name, False)) for one in kept]) for name in names}


def _columns(told: Sequence[Facts]) -> list[tuple[str, str, Floats]]:
    """Name, unit and values of every output."""
    found = [
        (f"part.{name}", "degC", np.array([one["parts_degc"][name] for one in told])) for name in told[0]["parts_degc"]
    ]
    for name, key, unit in LONE:
        if told[0][key] is not None:
            found.append((name, unit, np.array([one[key] for one in told])))
    for kind, key, unit in FLOWS:
        found += [(f"{kind} {name}", unit, np.array([one[key][name] for one in told])) for name in told[0][key]]
    return found


def _output_of(verdict: Facts) -> str:
    return f"part.{verdict['part']}" if "part" in verdict else str(verdict["of"])
