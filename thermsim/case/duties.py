"""What may change with time, and what a must-have may be about: text read by the unit of what it concerns."""

from collections.abc import Iterator
from itertools import pairwise

from thermsim import units
from thermsim.case.errors import Finding, KeyPath, nearest
from thermsim.case.references import tables, wrong_reference
from thermsim.case.running import Duty, MustHave
from thermsim.case.schema import Spec

CHANGING = {"watts": "power", "temperature": "temperature", "inlet": "temperature", "air": "temperature"}
CHANGEABLE = (
    "state, room.temperature, part.name.watts, source.name.watts, airway.name.inlet, film.name.air or "
    "edge.name.temperature"
)
_CHANGING_KEYS = {
    "part": "watts", "source": "watts", "airway": "inlet", "film": "air", "edge": "temperature"
}  # fmt: skip
MUST_HAVES = {"noise": "level", "dew margin": "difference", "warm-up": "time", "height": "length", "mass": "mass"}
LIMITED = ("part", "probe")


def duty_dimension(duty: Duty) -> str | None:
    """The dimension of what a duty moves; None for the operating state."""
    return None if duty.of == "state" else CHANGING[duty.of.rpartition(".")[2]]


def duty_points(duty: Duty) -> list[tuple[float, float | str]]:
    """A duty's points: seconds with a value in SI, or with a state. Raises `UnitError`."""
    dimension = duty_dimension(duty)

    def point(text: str) -> tuple[float, float | str]:
        time, comma, value = text.partition(",")
        if not comma:
            example = "work" if dimension is None else units.example(dimension)
            raise units.UnitError(f'expected a pair, for example "10 min, {example}"')
        read = value.strip() if dimension is None else units.quantity(value, dimension)
        return units.quantity(time, "time"), read

    return list(units.many(duty.points or (), point))


def duty_values(spec: Spec, of: str) -> list[float]:
    """All values that a duty gives to an address: its points, or the ends of its swing."""
    found: list[float] = []
    for duty in spec.duty.values():
        if duty.of == of and of != "state":
            found += [value for _, value in duty_points(duty) if isinstance(value, float)]
            found += _swing(duty)
    return found


def _swing(duty: Duty) -> list[float]:
    if duty.sine is None:
        return []
    dimension = duty_dimension(duty) or "power"
    mean = units.quantity(duty.sine.mean, dimension)
    amplitude = units.quantity(duty.sine.amplitude, "difference" if dimension == "temperature" else dimension)
    return [mean - amplitude, mean + amplitude]


def must_have_limits(must_have: MustHave) -> tuple[float | None, float | None]:
    """`at_most` and `at_least` in SI: dB(A), K, s, m, kg, or °C for a part. Raises `UnitError`."""
    return _limit(must_have, must_have.at_most), _limit(must_have, must_have.at_least)


def _limit(must_have: MustHave, text: str | None) -> float | None:
    return None if text is None else units.quantity(text, MUST_HAVES.get(must_have.of, "temperature"))


def check_duties(spec: Spec) -> Iterator[Finding]:
    """Duties move something that can move, with sound points or a sine; operating states are known."""
    seen: dict[str, str] = {}
    for name, duty in spec.duty.items():
        at: KeyPath = ("duty", name)
        message = _wrong_target(spec, duty.of)
        if message:
            yield (*at, "of"), message
            continue
        if duty.of in seen:
            yield (*at, "of"), f"duty.{seen[duty.of]} moves {duty.of} already"
        seen[duty.of] = name
        yield from _duty_course(spec, duty, at)
    yield from _unknown_states(spec, spec.run.state, ("run", "state"))


def _wrong_target(spec: Spec, of: str) -> str | None:
    if of in ("state", "room.temperature"):
        return None
    kind, _, rest = of.partition(".")
    name, _, key = rest.rpartition(".")
    if not name or _CHANGING_KEYS.get(kind) != key:
        return f'"{of}" does not change with time; expected {CHANGEABLE}'
    message = wrong_reference(spec, f"{kind}.{name}", (kind,))
    if message:
        return message
    if kind == "airway" and isinstance(spec.airway[name].inlet, str):
        source = spec.airway[name].inlet
        return f"airway.{name} takes its air from {source}; give it an inlet temperature first"
    if kind in ("edge", "film", "source") and getattr(tables(spec, kind)[name], key) is None:
        word = {"edge": "temperature", "film": "air temperature", "source": "watts"}[kind]
        return f"{kind}.{name} has no {word} to change"
    return None


def _duty_course(spec: Spec, duty: Duty, at: KeyPath) -> Iterator[Finding]:
    if (duty.points is None) == (duty.sine is None):
        yield at, "give either points or a sine"
        return
    if duty.sine is not None and duty.of == "state":
        yield (*at, "sine"), "the operating state has no sine"
        return
    key = "points" if duty.sine is None else "sine"
    try:
        points, swing = duty_points(duty), _swing(duty)
    except units.UnitError as error:
        yield (*at, key), str(error)
        return
    values = swing + [value for _, value in points if isinstance(value, float)]
    if duty.of.startswith("part.") and min(values, default=0.0) < 0:
        yield (*at, key), "watts fall below zero"
    if duty.sine is not None:
        return
    yield from _times(duty, [time for time, _ in points], at)
    for number, (_, value) in enumerate(points):
        if isinstance(value, str):
            yield from _unknown_states(spec, value, (*at, "points", number))


def _times(duty: Duty, times: list[float], at: KeyPath) -> Iterator[Finding]:
    if not times:
        yield (*at, "points"), "needs at least one point"
        return
    if times[0] < 0 or any(later <= earlier for earlier, later in pairwise(times)):
        yield (*at, "points"), "times must rise from point to point, from 0 or later"
    if duty.repeat is not None and duty.repeat < times[-1]:
        yield (*at, "repeat"), "comes before the last point"


def _unknown_states(spec: Spec, state: str, at: KeyPath) -> Iterator[Finding]:
    for name, part in spec.part.items():
        if isinstance(part.watts, dict) and state not in part.watts:
            hint = nearest(state, part.watts) or f"; it has {', '.join(part.watts)}"
            yield at, f'part.{name} has no watts for state "{state}"{hint}'


def check_must_haves(spec: Spec) -> Iterator[Finding]:
    """Must-haves are about something known, with the right unit."""
    for name, must_have in spec.must_have.items():
        at: KeyPath = ("must_have", name)
        if must_have.of not in MUST_HAVES:
            message = wrong_reference(spec, must_have.of, LIMITED)
            if message:
                words = ", ".join(f'"{word}"' for word in MUST_HAVES)
                message += nearest(must_have.of, MUST_HAVES)
                yield (*at, "of"), message if "did you mean" in message else f"{message}, or one of {words}"
                continue
        limits = {key: getattr(must_have, key) for key in ("at_most", "at_least")}
        if set(limits.values()) == {None}:
            yield at, "give at_most or at_least"
        for key, text in limits.items():
            try:
                _limit(must_have, text)
            except units.UnitError as error:
                yield (*at, key), str(error)
