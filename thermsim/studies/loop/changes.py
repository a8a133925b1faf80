"""What to change first: one thing at a time made better, and what that does to flow and to the tightest part."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from thermsim.case.case import Case
from thermsim.case.errors import CaseError
from thermsim.case.lines import dotted
from thermsim.case.schema import Spec
from thermsim.case.targets import targets
from thermsim.model.hydraulics import elements, read_path
from thermsim.physics.coolants import CoolantRange
from thermsim.solve.factor import SolveFailed
from thermsim.studies.byhand import joined_parts
from thermsim.studies.settled import Settled, Settler

Facts = dict[str, Any]
BORES_MM = (2, 3, 4, 5, 6, 8, 10, 13, 16, 19, 25)  # of hoses one buys; common practice, no source
MORE = 1.25  # a radiator or pump so much larger
HALF = 0.5
WIDER_M = 1e-3  # of a groove


@dataclass(frozen=True)
class Change:
    """One thing made better: what it is, in words, and the change of the case."""

    what: str
    changes: dict[str, Any]
    in_flow: bool  # whether it is the flow it betters


def standing(settled: Settled, loop: str) -> Facts:
    """Flow, hottest coolant, the tightest part of those the loop cools and of all others."""
    nodes = settled.model.coolant_nodes[loop]
    parts = cooled_parts(settled.case.spec, loop)
    margins = {name: margin for name, margin in settled.margins.items() if name in parts}
    tightest = min(margins, key=lambda name: margins[name], default=None)
    hottest = max(parts, key=lambda name: settled.parts[name], default=None)
    others = {name: margin for name, margin in settled.margins.items() if name not in parts}
    elsewhere = min(others, key=lambda name: others[name], default=None)
    return {
        "flow_l_per_min": 6e4 * settled.coolant_flows[loop],
        "hottest_coolant_degc": float(settled.steady.temperature[nodes].max()),
        "parts_degc": {name: settled.parts[name] for name in parts},
        "tightest_part": tightest,
        "tightest_margin_k": None if tightest is None else margins[tightest],
        "elsewhere_part": elsewhere,
        "elsewhere_margin_k": None if elsewhere is None else others[elsewhere],
        "hottest_part": hottest,
        "hottest_degc": None if hottest is None else settled.parts[hottest],
    }


def cooled_parts(spec: Spec, loop: str) -> list[str]:
    """Names of the parts joined to a plate or block of a loop, in the order of the case."""
    joined = joined_parts(spec, elements(read_path(spec.loop[loop].path)))
    return [name for name in spec.part if f"part.{name}" in joined]


def decisive(told: Facts) -> str | None:
    """The part to look at: the tightest, or the hottest where none has a limit."""
    part: str | None = told["tightest_part"] or told["hottest_part"]
    return part


def change_rows(case: Case, settled: Settled, loop: str, settler: Settler) -> list[Facts]:
    """Every change tried alone, the one that helps the decisive part most first; those that cannot be built left out.

    `gain_k` is what the tightest margin gains, whichever part is then the tightest; without limits what the hottest
    part loses.
    """
    before = standing(settled, loop)
    if decisive(before) is None:
        return []
    rows = []
    for change in _changes(case.spec, loop, settled, before):
        try:
            after = standing(settler.settle(case.with_changes(change.changes)), loop)
        except (CaseError, CoolantRange, SolveFailed):
            continue
        rows.append({
            "what": change.what,
            "changes": change.changes,
            "in_flow": change.in_flow,
            "flow_l_per_min": after["flow_l_per_min"],
            "gain_k": _worth(after) - _worth(before),
            "decisive_part": decisive(after),
        })  # fmt: skip
    return sorted(rows, key=lambda row: -row["gain_k"])


def _worth(told: Facts) -> float:
    margin: float | None = told["tightest_margin_k"]
    return -told["hottest_degc"] if margin is None else margin


def _changes(spec: Spec, loop: str, settled: Settled, before: Facts) -> Iterator[Change]:
    """What can be bettered of a loop: its hoses, grooves, pump, radiators, and the joint of the decisive part."""
    path = elements(read_path(spec.loop[loop].path))
    pinned = spec.loop[loop].flow is not None
    if not pinned:
        yield from _hoses(spec, [a.removeprefix("hose.") for a in path if a.startswith("hose.")])
        yield from _grooves(spec, [a.removeprefix("plate.") for a in path if a.startswith("plate.")])
        pump = spec.loop[loop].pump
        yield Change(f"{pump} with a quarter more pressure", _scaled(spec, f"{pump}.curve", MORE), True)
    for address in path:
        if address.startswith("radiator."):
            scaled = _scaled(spec, dotted(("radiator", address.removeprefix("radiator."), "conductance")), MORE)
            yield Change(f"{address} a quarter larger", scaled, False)
    yield from _joints(spec, path, f"part.{decisive(before)}")


def _hoses(spec: Spec, hoses: list[str]) -> Iterator[Change]:
    """All hoses of one bore by the next one up, together: one buys one sort."""
    bores = sorted({spec.hose[name].bore for name in hoses})
    for bore in bores:
        alike = [name for name in hoses if spec.hose[name].bore == bore]
        wider = next((mm for mm in BORES_MM if mm * 1e-3 > bore * 1.05), None)
        if wider is not None:
            which = "hoses" if len(alike) > 1 else f"hose.{alike[0]}"
            changes = {dotted(("hose", name, "bore")): f"{wider} mm" for name in alike}
            yield Change(f"{which} of {wider} mm bore in place of {1e3 * bore:g}", changes, True)


def _grooves(spec: Spec, plates: list[str]) -> Iterator[Change]:
    for name in plates:
        channel = spec.plate[name].channel
        deeper = {dotted(("plate", name, "channel", "depth")): f"{1e3 * (channel.depth + WIDER_M):.6g} mm"}
        yield Change(f"groove of plate.{name} 1 mm deeper", deeper, True)


def _joints(spec: Spec, path: list[str], part: str) -> Iterator[Change]:
    """Half the resistance between the decisive part and what cools it."""
    for name, joint in spec.joint.items():
        if part not in joint.between or not any(end in path for end in joint.between):
            continue
        key = next(
            k for k in ("resistance", "resistivity", "conductance", "bond_line") if getattr(joint, k) is not None
        )
        scaled = _scaled(spec, dotted(("joint", name, key)), 1 / HALF if key == "conductance" else HALF)
        yield Change(f"joint.{name} at half its resistance", scaled, False)


def _scaled(spec: Spec, address: str, factor: float) -> dict[str, Any]:
    return {one.address: one.scaled(factor) for one in targets(spec, address)}
