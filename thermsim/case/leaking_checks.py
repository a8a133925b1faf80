"""Does `[leak]` make sense? What a test needs besides is asked for by the study."""

from collections.abc import Iterator

from thermsim.case.channels import IGNORE, wrong_channel
from thermsim.case.errors import Finding
from thermsim.case.leaking import Leak
from thermsim.case.schema import Spec

COLUMNS = ("pressure", "temperature", "atmosphere")  # channels of a leak test
ABSOLUTE_ZERO_DEGC = -273.15


def check_leaking(spec: Spec) -> Iterator[Finding]:
    """Readings are whole and possible, the volume is known better than not at all, columns are those of a leak test."""
    leak = spec.leak
    counts = {"first": len(leak.first), "last": len(leak.last), "after": len(leak.after)}
    if len(set(counts.values())) > 1:
        short = min(counts, key=lambda key: counts[key])
        told = ", ".join(f"{count} {key}" for key, count in counts.items())
        yield ("leak", short), f"each test has a first reading, a last one and the time between; got {told}"
    if leak.logs and any(counts.values()):
        yield ("leak", "logs"), "give logs or readings (first, last, after), not both"
    if leak.volume is not None and leak.volume_uncertainty is not None and leak.volume_uncertainty >= leak.volume:
        yield ("leak", "volume_uncertainty"), "must be less than the volume"
    if leak.atmosphere_after is not None and leak.atmosphere is None:
        yield ("leak", "atmosphere_after"), "goes with atmosphere, measured when the test began"
    yield from _readings(leak)
    for header, channel in leak.columns.items():
        message = wrong_channel(spec, channel)
        if message is None and channel not in (*COLUMNS, IGNORE):
            message = f"a leak test has no use for {channel}: expected {', '.join(COLUMNS)} or {IGNORE}"
        if message:
            yield ("leak", "columns", header), message


def _readings(leak: Leak) -> Iterator[Finding]:
    for key, readings in (("first", leak.first), ("last", leak.last)):
        for pressure, degc in readings:
            if not leak.gauge and pressure <= 0:
                yield (
                    ("leak", key),
                    f"an absolute pressure is above zero; got {pressure:g} Pa (over the atmosphere: gauge)",
                )
            if degc <= ABSOLUTE_ZERO_DEGC:
                yield ("leak", key), f"{degc:g} °C is below absolute zero"
