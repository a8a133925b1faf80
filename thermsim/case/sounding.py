"""Is each noise stated with what it needs, and do octave bands agree with the level beside them?"""

from collections.abc import Iterator

from thermsim.case.errors import Finding, KeyPath
from thermsim.case.flow import Noisy
from thermsim.case.references import tables
from thermsim.case.schema import Spec

AGREES_WITHIN = 1.0  # dB, for bands rounded to whole decibels: common practice, no source


def check_noise(spec: Spec) -> Iterator[Finding]:
    """A sound power is heard from somewhere; nothing is said of a noise that is not stated."""
    if spec.room.noise_bands is not None and spec.room.noise_floor is None:
        yield ("room", "noise_bands"), "goes with noise_floor"
    for at, table in _noisy(spec):
        stated = table.noise is not None or table.noise_bands is not None
        for key in ("noise_is", "noise_distance"):
            if not stated and key in table.model_fields_set:
                yield (*at, key), "goes with noise or noise_bands"
        if stated and table.noise_is == "power":
            if spec.room.listener is None:
                yield (*at, "noise_is"), 'a sound power needs room.listener, where it is heard, for example "1 m"'
            if table.noise_distance is not None:
                yield (*at, "noise_distance"), "a sound power has no distance; leave it out"


def warn_noise(spec: Spec) -> Iterator[Finding]:
    """Bands that do not add up to the stated level; a noise or a distance that changes nothing."""
    from thermsim.physics.acoustics import a_level

    stated: list[tuple[KeyPath, float | None, tuple[float, ...] | None]]
    stated = [(("room",), spec.room.noise_floor, spec.room.noise_bands)]
    stated += [(at, table.noise, table.noise_bands) for at, table in _noisy(spec)]
    for at, level, bands in stated:
        if level is not None and bands is not None and abs(a_level(bands) - level) > AGREES_WITHIN:
            yield (
                (*at, "noise_bands"),
                f"add up to {a_level(bands):.1f} dB(A), but {level:g} dB(A) is stated; the latter counts",
            )
    for at, table in _noisy(spec):
        if not table.heard and (table.noise is not None or table.noise_bands is not None):
            yield (*at, "heard"), "is false, so the noise stated beside it does not count"
    if spec.room.listener is None:
        for at, table in _noisy(spec):
            if table.noise_distance is not None:
                yield (*at, "noise_distance"), "has no effect without room.listener"


def _noisy(spec: Spec) -> Iterator[tuple[KeyPath, Noisy]]:
    for kind in ("fan", "pump"):
        for name, table in tables(spec, kind).items():
            yield (kind, name), table
