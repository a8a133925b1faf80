"""Do the columns and runs that `[bench]` names make sense?"""

from collections.abc import Iterator

from thermsim import units
from thermsim.case.benching import Layout
from thermsim.case.channels import IGNORE, MANY, TEXT, channels, dimensions_of, is_temperature, wrong_channel
from thermsim.case.errors import Finding, KeyPath, nearest
from thermsim.case.schema import Spec

TIME_FORMS = ("h:mm:ss", "mm:ss", "h:mm")  # as units of a column of times


def check_benching(spec: Spec) -> Iterator[Finding]:
    """Channels, units and options that `[bench]` and its runs name are there, a channel once."""
    bench = spec.bench
    yield from _layout(spec, bench, ("bench",), bench)
    known = channels(spec)
    for number, channel in enumerate(bench.moved):
        if channel not in known:
            yield ("bench", "moved", number), wrong_channel(spec, channel) or f'"{channel}" is no channel'
    for channel in bench.touch:
        message = wrong_channel(spec, channel)
        if message is None and not is_temperature(channel):
            message = f"{channel} is no temperature that hands could feel"
        if message:
            yield ("bench", "touch", channel), message
    for name, run in bench.run.items():
        yield from _layout(spec, run, ("bench", "run", name), bench.of(run))
        if not run.file.strip():
            yield ("bench", "run", name, "file"), "names no file"
        if run.option is not None and run.option not in spec.option:
            hint = nearest(run.option, spec.option)
            yield ("bench", "run", name, "option"), f'there is no option "{run.option}"{hint}'


def _layout(spec: Spec, layout: Layout, at: KeyPath, whole: Layout) -> Iterator[Finding]:
    first: dict[str, str] = {}
    for header, channel in layout.columns.items():
        path = (*at, "columns", header)
        message = wrong_channel(spec, channel)
        if message:
            yield path, message
        elif channel in first and channel not in (*MANY, IGNORE):
            yield path, f'{channel} is column "{first[channel]}" already; only room may be several'
        if header in whole.time:
            yield path, "is the column of the time"
        first.setdefault(channel, header)
    if len(layout.time) > 2:
        yield (*at, "time"), "at most two columns, of date and of time of day, make up the time"
    for header, unit in layout.units.items():
        message = _wrong_unit(header, unit, whole)
        if message:
            yield (*at, "units", header), message


def _wrong_unit(header: str, unit: str, layout: Layout) -> str | None:
    channel = layout.columns.get(header)
    if channel is None:
        hint = nearest(header, [*layout.columns, *layout.time])
        if header in layout.time or not (hint or layout.time):  # the first column may be the time by any name
            return None if unit in TIME_FORMS else _unfit(unit, ("time",))
        return f"is no column of this case{hint}"
    wanted = dimensions_of(channel)
    if TEXT in wanted:
        return f"{channel} has no unit"
    return _unfit(unit, wanted) if wanted else None


def _unfit(unit: str, dimensions: tuple[str, ...]) -> str | None:
    """What is wrong with a unit that should be of one of these dimensions."""
    if any(units.is_unit(unit, dimension) for dimension in dimensions):
        return None
    try:
        units.converter(unit, dimensions[0])
    except units.UnitError as error:
        return str(error)
    return None
