"""A plate that is searched for a place: its channel in its own frame, its rules, and how its hoses count."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from thermsim.case.case import Case
from thermsim.case.errors import CaseError
from thermsim.case.placing import Place
from thermsim.case.schema import Spec
from thermsim.model.operating import Conditions
from thermsim.physics.ducts import reynolds, round_duct
from thermsim.physics.losses import bend_loss
from thermsim.studies.place.hoses import least_bend_radius
from thermsim.studies.place.layouts import Layout, NoRoom, Pair, drawn, layout
from thermsim.studies.place.plumbing import Plumbing, hoses_about
from thermsim.studies.place.rules import Rules
from thermsim.studies.place.seats import beside, seats_of
from thermsim.studies.place.tables import SECOND


def wrong(case: Case, key: str, message: str) -> CaseError:
    """What is wrong with a setting of the search, with file and line."""
    return CaseError([case.problem(("place", *key.split(".")) if key else ("place",), message)])


@dataclass(frozen=True)
class Candidate:
    """A plate of the search by name, with its size in its own frame, its channel and its rules."""

    plate: str
    size: Pair
    layout: Layout
    rules: Rules


def lists(path: Any) -> Any:
    """A path with its tuples made lists."""
    return [lists(item) if isinstance(item, tuple | list) else item for item in path]


def plumbing_of(
    case: Case, spec: Spec, place: Place, loop: str, plate: str, conditions: Conditions
) -> Plumbing | None:  # fmt: skip
    """None where hoses are not looked at."""
    if place.hose is None:
        return None
    names = [name for name in hoses_about(lists(spec.loop[loop].path), plate) if name is not None]
    bore = spec.hose[names[0]].bore if names else 2 / 3 * place.hose.outer  # common proportions, no source
    rules_radius = _radius(case, place, bore)
    point = conditions.loops[loop]
    flow = point.flows.get(f"plate.{plate}", 0.0)
    re = reynolds(round_duct(bore), max(flow, 1e-9), point.liquid.density, point.liquid.viscosity)
    bend = bend_loss(re, bore, rules_radius).value
    return Plumbing(bore, bend, place.hose.barb_length + rules_radius)


def _radius(case: Case, place: Place, bore: float) -> float:
    assert place.hose is not None
    try:
        return least_bend_radius(place.hose, bore)
    except ValueError as error:
        raise wrong(case, "hose", str(error)) from None


def candidate(
    case: Case, spec: Spec, place: Place, on: str, name: str, plates: tuple[str, ...], plumbing: Plumbing | None
) -> Candidate:
    source = place.plate.removeprefix("plate.") if name == SECOND else name
    plate = spec.plate[source]
    if plate.patch or plate.cutout or plate.conductivity_y is not None:
        raise wrong(case, "plate", f"plate.{source} has patches, cutouts or a grain and cannot be moved about")
    own = name == place.plate.removeprefix("plate.")
    size = place.size if place.size is not None and own else plate.size
    channel = plate.channel
    if place.layout == "as drawn" or not own:
        grooves = [tuple((x - plate.corner[0], y - plate.corner[1]) for x, y in path) for path in channel.grooves]
        found = drawn(plate.size, grooves)
    else:
        try:
            found = layout(place.layout, size, place.passes, channel.width, place.wall_to_channel)
        except NoRoom as error:
            raise wrong(case, "passes", str(error)) from None
    seats = seats_of(spec, on, tuple(f"plate.{one}" for one in plates))
    lies = any(
        f"plate.{source}" in joint.between and not any(end.startswith("part.") for end in joint.between)
        for joint in spec.joint.values()
    )
    bore = None if plumbing is None else plumbing.bore
    return Candidate(
        name, size, found, Rules(spec, place, seats, plate.thickness, channel.width, found, bore, lies, beside(spec))
    )
