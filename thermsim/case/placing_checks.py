"""Is the search for a plate's place stated soundly?"""

from collections.abc import Iterator

from thermsim.case.errors import Finding, nearest
from thermsim.case.placing import ARRANGEMENTS, SAME, Place
from thermsim.case.references import added_by_options, wrong_reference
from thermsim.case.schema import Spec


def check_placing(spec: Spec) -> Iterator[Finding]:
    """References and sizes of `[place]`, and of screws."""
    for name, screw in spec.screw.items():
        if screw.ring < screw.hole:
            yield ("screw", name, "ring"), f"is smaller than the hole, {1e3 * screw.hole:.4g} mm"
    place = spec.place
    if place is None:
        return
    if place.option is not None and place.option not in spec.option and place.option != "base":
        yield ("place", "option"), f'unknown option "{place.option}"{nearest(place.option, spec.option)}'
    yield from _references(spec, place)
    for number, name in enumerate(place.arrangement):
        if name not in ARRANGEMENTS:
            yield ("place", "arrangement", number), f'must be "series" or "parallel"; got "{name}"'
    if place.hose is not None and not place.hose.exits:
        yield ("place", "hose", "exits"), "names no exit: hoses must leave the box somewhere"
    if place.pad is not None and place.pad.thickness_min > place.pad.thickness_max:
        thick = 1e3 * place.pad.thickness_max
        yield ("place", "pad", "thickness_min"), f"is above thickness_max, {thick:.4g} mm"
    if place.least_overlap > 1:
        yield ("place", "least_overlap"), "must be at most 100 %"
    if place.size is not None and place.layout == "as drawn":
        yield ("place", "layout"), 'a plate of another size needs a layout: "serpentine", "parallel" or "spiral"'


def _references(spec: Spec, place: Place) -> Iterator[Finding]:
    elsewhere = added_by_options(spec)
    mentions = [("plate", place.plate, "plate"), ("second", place.second, "plate"), ("on", place.on, "sheet")]
    for key, address, kind in mentions:
        if address is None or address in elsewhere or (key == "second" and address == SAME):
            continue
        message = wrong_reference(spec, address, (kind,))
        if message:
            known = [other for other in elsewhere if other.startswith(f"{kind}.")]
            yield ("place", key), f"{message}{nearest(address, known)}"
