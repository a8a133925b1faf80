"""How tall a case's tallest stack is over its sheet, and what mass an option adds to the base case."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from thermsim.case.case import Case
from thermsim.case.errors import CaseError
from thermsim.case.materials import material
from thermsim.case.schema import Spec
from thermsim.case.solid import Joint, Plate
from thermsim.model.fill import coolant_volume, groove_volume
from thermsim.model.hydraulics import elements, read_path
from thermsim.physics.coolants import coolant

WEIGHED = ("fan", "pump", "hose", "radiator", "block", "reservoir", "sink", "part", "heat_pipe")


@dataclass(frozen=True)
class Told:
    """A value in SI, or None with the addresses of the keys it needs."""

    value: float | None
    missing: tuple[str, ...] = ()


def stack_height(spec: Spec) -> Told:
    """Height (m) of the tallest stack over the sheet it stands on: parts, what is joined to them, and bond lines.

    A joint without a stated bond line counts as nothing, a part under a plate as high as it is.
    """
    heights: list[float] = []
    missing: dict[str, None] = {}
    for name, part in spec.part.items():
        if part.on is None:
            continue
        tops = list(_on_top(spec, f"part.{name}", missing))
        own = _height(part, f"part.{name}", missing)
        if own is not None:
            heights.append(own + max(tops, default=0.0))
    return Told(None, tuple(missing)) if missing else Told(max(heights, default=0.0))


def bulk_told(case: Case) -> dict[str, Any]:
    """What must-haves on height (m) and mass (kg) ask for: values, or what is missing."""
    asked = {must.of for must in case.spec.must_have.values()}
    found = {}
    if "height" in asked:
        found["height"] = stack_height(case.spec)
    if "mass" in asked:
        found["mass"] = added_mass(case)
    return {of: {"value": told.value, "missing": list(told.missing)} for of, told in found.items()}


def _on_top(spec: Spec, address: str, missing: dict[str, None]) -> Iterator[float]:
    """Thickness of what each joint puts on a part, m."""
    for joint in spec.joint.values():
        if address not in joint.between:
            continue
        other = joint.between[1 - joint.between.index(address)]
        kind, _, name = other.partition(".")
        if kind == "plate":
            yield _bond(joint) + spec.plate[name].thickness
        elif kind in ("sink", "block"):
            yield _bond(joint) + (_height(getattr(spec, kind)[name], other, missing) or 0.0)


def _height(table: Any, address: str, missing: dict[str, None]) -> float | None:
    height: float | None = table.height
    if height is None:
        missing[f"{address}.height"] = None
    return height


def _bond(joint: Joint) -> float:
    return joint.bond_line or 0.0


def added_mass(case: Case) -> Told:
    """Mass (kg) of a case over that of its base case: plates less their grooves, coolant, and all that states a mass.

    Things alike in both count for nothing; those that an option takes away without a stated mass neither.
    """
    if case.option is not None and case.option not in case.options:
        return Told(None, ("the case file",))  # read back from a result: the base case is no longer there
    try:
        base, spec = case.with_option(None).spec, case.spec
    except CaseError:
        return Told(None, ("a base case that the changes fit",))
    missing = dict.fromkeys(f"plate.{name}.material" for name, plate in spec.plate.items() if plate.material is None)
    total = _plates(spec) - _plates(base) + _coolant(spec) - _coolant(base)
    for kind in WEIGHED:
        before, now = getattr(base, kind), getattr(spec, kind)
        for name, table in now.items():
            if table != before.get(name) and table.mass is None and _pieces(table) != _pieces(before.get(name)):
                missing[f"{kind}.{name}.mass"] = None
            total += _mass(table)
        total -= sum(_mass(table) for table in before.values())
    return Told(None, tuple(missing)) if missing else Told(total)


def _pieces(table: Any) -> int:
    return 0 if table is None else getattr(table, "count", 1) * getattr(table, "in_series", 1)


def _mass(table: Any) -> float:
    return (table.mass or 0.0) * _pieces(table)


def _plates(spec: Spec) -> float:
    return sum(_plate(spec, plate, plate.material) for plate in spec.plate.values() if plate.material is not None)


def _plate(spec: Spec, plate: Plate, name: str) -> float:
    """Mass of a plate with its groove and cutouts cut; patches count as the plate."""
    area = plate.size[0] * plate.size[1] - sum(cut.size[0] * cut.size[1] for cut in plate.cutout.values())
    return material(name, spec.material).density * (area * plate.thickness - groove_volume(plate))


def _coolant(spec: Spec) -> float:
    """Mass of the coolant in all loops at 20 °C, kg."""
    total = 0.0
    for loop in spec.loop.values():
        density = coolant(loop.coolant, loop.fraction, loop.fraction_by).at(20.0).density
        total += density * sum(coolant_volume(spec, address) for address in elements(read_path(loop.path)))
    return total
