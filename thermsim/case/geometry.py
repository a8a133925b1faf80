"""Does it fit: parts on their sheets, patches and channels inside them, joint ends over one another."""

from collections.abc import Iterator, Sequence
from itertools import pairwise
from math import dist

from thermsim.case.errors import Finding, KeyPath
from thermsim.case.rectangles import SLACK_M, Pair, Rectangle, around, extent, outline, overlapping, rectangle
from thermsim.case.references import find, sheet_at, tables
from thermsim.case.schema import Spec
from thermsim.case.solid import Joint, Plate

SAME_LENGTH = 0.1  # of grooves that are taken to share a flow evenly: common practice, no source


def check_geometry(spec: Spec) -> Iterator[Finding]:
    """All checks of this module; references that point nowhere are passed over."""
    yield from _sheets(spec)
    yield from _parts(spec)
    yield from _channels(spec)
    yield from _regions(spec)
    yield from _joints(spec)
    yield from _facing(spec)
    yield from _edges(spec)
    yield from _probes(spec)


def _sheets(spec: Spec) -> Iterator[Finding]:
    for kind in ("sheet", "plate"):
        for name, sheet in tables(spec, kind).items():
            whole = outline(sheet)
            for what in ("patch", "cutout"):
                for piece_name, piece in getattr(sheet, what).items():
                    area = rectangle(piece.corner, piece.size)
                    if not whole.holds(area):
                        yield (kind, name, what, piece_name), f"{area} is not inside the sheet, {whole}"
            layers = sum(layer.thickness for layer in sheet.layers or ())
            if layers > sheet.thickness + SLACK_M:
                thick, thicker = 1e3 * sheet.thickness, 1e3 * layers
                yield (kind, name, "layers"), f"{thicker:.4g} mm in all, but the sheet has {thick:.4g} mm"


def _parts(spec: Spec) -> Iterator[Finding]:
    for name, part in spec.part.items():
        sheet = sheet_at(spec, part.on) if part.on else None
        area = extent(spec, f"part.{name}")
        if sheet is None or area is None:
            continue
        if not outline(sheet).holds(area):
            yield ("part", name, "centre"), f"the part covers {area}: not on {part.on}, {outline(sheet)}"
        for cutout_name, cutout in sheet.cutout.items():
            if area.common(rectangle(cutout.corner, cutout.size)):
                yield ("part", name, "centre"), f'the part lies over cutout "{cutout_name}" of {part.on}'
    yield from _parts_over_parts(spec)


def _parts_over_parts(spec: Spec) -> Iterator[Finding]:
    faces: dict[tuple[str, str], list[tuple[str, Rectangle]]] = {}
    for name, part in spec.part.items():
        area = extent(spec, f"part.{name}")
        if part.on and area:
            faces.setdefault((part.on, part.face), []).append((name, area))
    for (sheet, face), placed in faces.items():
        for first, second in overlapping([area for _, area in placed]):
            what = f"the part overlaps part.{placed[first][0]} on the {face} of {sheet}"
            yield ("part", placed[second][0], "centre"), what


def _channels(spec: Spec) -> Iterator[Finding]:
    for name, plate in spec.plate.items():
        at: KeyPath = ("plate", name, "channel")
        if plate.channel.depth >= plate.thickness:
            yield (*at, "depth"), f"is not less than the plate's thickness, {1e3 * plate.thickness:.4g} mm"
        yield from _groove(plate, plate.channel.path, (*at, "path"))
        length = _length(plate.channel.path)
        for number, path in enumerate(plate.channel.beside):
            yield from _groove(plate, path, (*at, "beside", number))
            if abs(_length(path) - length) > SAME_LENGTH * length:
                here, there = 1e3 * _length(path), 1e3 * length
                what = f"is {here:.4g} mm long, the path {there:.4g} mm: their flows would not be even"
                yield (*at, "beside", number), what


def _length(path: Sequence[Pair]) -> float:
    return sum(dist(start, end) for start, end in pairwise(path))


def _groove(plate: Plate, path: Sequence[Pair], at: KeyPath) -> Iterator[Finding]:
    if len(path) < 2:
        yield at, "needs at least two points"
    repeated = [n for n, (start, end) in enumerate(pairwise(path), start=1) if dist(start, end) <= SLACK_M]
    for number in repeated:
        yield (*at, number), "is the same point as the one before it"
    if not repeated:
        yield from _channel_inside(plate, path, at)


def _channel_inside(plate: Plate, path: Sequence[Pair], at: KeyPath) -> Iterator[Finding]:
    """A groove stays inside the plate; only its two ends may open at the rim."""
    half = plate.channel.width / 2
    for number, point in enumerate(path):
        segments = list(pairwise(path))[max(number - 1, 0) : number + 1]
        if not all(outline(plate).holds(_cut(point, start, end, half)) for start, end in segments):
            where = f"{1e3 * point[0]:.6g}, {1e3 * point[1]:.6g} mm"
            yield (
                (*at, number),
                f"the channel leaves the plate: {where} is not half its width, {1e3 * half:.4g} mm, "
                f"inside {outline(plate)}",
            )
    for number, (start, end) in enumerate(pairwise(path), start=1):
        for hole, cutout in plate.cutout.items():
            if _crosses(rectangle(cutout.corner, cutout.size), start, end):
                yield (*at, number), f'the channel runs through cutout "{hole}" on its way here'


def _crosses(area: Rectangle, start: Pair, end: Pair) -> bool:
    """Whether a segment has a stretch inside a rectangle (clipping after Liang and Barsky)."""
    enter, leave = 0.0, 1.0
    for a, b, low, high in zip(start, end, area[:2], area[2:], strict=True):
        if abs(b - a) < SLACK_M:
            if not low + SLACK_M < a < high - SLACK_M:
                return False
            continue
        near, far = sorted(((low - a) / (b - a), (high - a) / (b - a)))
        enter, leave = max(enter, near), min(leave, far)
    return (leave - enter) * dist(start, end) > SLACK_M


def _cut(point: Pair, start: Pair, end: Pair, half: float) -> Rectangle:
    """The rectangle about a cut across the groove, square to the segment, at a point."""
    length = dist(start, end)
    across = abs(end[1] - start[1]) / length * half, abs(end[0] - start[0]) / length * half
    return around(point, (2 * across[0], 2 * across[1]))


def _regions(spec: Spec) -> Iterator[Finding]:
    """A `corner` with its `size`, on the sheet it is about."""
    for kind in ("film", "source", "joint", "heat_pipe", "airway"):
        for name, table in tables(spec, kind).items():
            if (table.corner is None) != (table.size is None):
                missing = "corner" if table.corner is None else "size"
                yield (kind, name, missing), "missing; corner and size go together"
    for kind in ("film", "source"):
        for name, table in tables(spec, kind).items():
            if table.corner is None or table.size is None:
                continue
            sheet, area = sheet_at(spec, table.on), rectangle(table.corner, table.size)
            if sheet is None and kind == "film" and find(spec, table.on):
                yield (kind, name, "corner"), f"goes with a film on a sheet or plate, not on {table.on}"
            elif sheet and not outline(sheet).holds(area):
                yield (kind, name, "corner"), f"{area} is not inside {table.on}, {outline(sheet)}"
            yield from _swallowed(spec, table.on, area, (kind, name, "corner"))
    for name, pipe in spec.heat_pipe.items():
        if pipe.corner is not None and pipe.size is not None:
            yield from _pipe_ends(spec, name, rectangle(pipe.corner, pipe.size), pipe.between)


def _swallowed(spec: Spec, address: str, area: Rectangle, at: KeyPath) -> Iterator[Finding]:
    """A rectangle of a sheet of which a cutout leaves nothing."""
    sheet = sheet_at(spec, address)
    for hole, cutout in sheet.cutout.items() if sheet else ():
        if rectangle(cutout.corner, cutout.size).holds(area):
            yield at, f'{area} lies wholly in cutout "{hole}" of {address}'


def _pipe_ends(spec: Spec, name: str, area: Rectangle, between: Sequence[str]) -> Iterator[Finding]:
    """Where a heat pipe ends on a sheet."""
    at: KeyPath = ("heat_pipe", name, "corner")
    for address in between:
        sheet = sheet_at(spec, address)
        if sheet and not outline(sheet).holds(area):
            yield at, f"{area} is not inside {address}, {outline(sheet)}"
        yield from _swallowed(spec, address, area, at)


def _joints(spec: Spec) -> Iterator[Finding]:
    for name, joint in spec.joint.items():
        at: KeyPath = ("joint", name)
        ends = [extent(spec, address) for address in joint.between]
        if not all(find(spec, address) for address in joint.between):
            continue
        if joint.between[0] == joint.between[1]:
            yield (*at, "between"), f"joins {joint.between[0]} to itself"
            continue
        sheets = sum(sheet_at(spec, address) is not None for address in joint.between)
        common = ends[0].common(ends[1]) if ends[0] and ends[1] else ends[0] or ends[1]
        if sheets and common is None:
            yield (*at, "between"), _apart(joint.between, ends)
            continue
        yield from _joint_area(spec, joint, common, at)


def _apart(addresses: Sequence[str], ends: Sequence[Rectangle | None]) -> str:
    places = (f"{address} ({end})" for address, end in zip(addresses, ends, strict=True))
    return f"{' and '.join(places)} do not overlap"


def _joint_area(spec: Spec, joint: Joint, common: Rectangle | None, at: KeyPath) -> Iterator[Finding]:
    if joint.corner is not None and joint.size is not None:
        region = rectangle(joint.corner, joint.size)
        if joint.area is not None:
            yield (*at, "area"), "give either an area, or a corner and a size"
        if common and not common.holds(region):
            yield (*at, "corner"), f"{region} is not inside what both ends cover, {common}"
        common = region
    elif joint.area is not None and common and joint.area > common.area * (1 + 1e-6):
        yield (*at, "area"), f"is more than both ends cover, {1e4 * common.area:.4g} cm²"
    if common:
        for address in joint.between:
            yield from _swallowed(spec, address, common, (*at, "between"))


def _facing(spec: Spec) -> Iterator[Finding]:
    for name, pair in spec.radiation.items():
        first, second = (extent(spec, address) for address in pair.between)
        if pair.between[0] == pair.between[1]:
            yield ("radiation", name, "between"), f"{pair.between[0]} does not face itself"
        elif first and second:
            common, at = first.common(second), ("radiation", name, "between")
            if common is None:
                yield at, _apart(pair.between, (first, second))
                continue
            for address in pair.between:
                yield from _swallowed(spec, address, common, at)


def _edges(spec: Spec) -> Iterator[Finding]:
    for name, edge in spec.edge.items():
        sheet = sheet_at(spec, edge.on)
        if sheet is None or edge.stretch is None:
            continue
        whole = outline(sheet)
        along_y = edge.side in ("left", "right")
        low, high = (whole.front, whole.back) if along_y else (whole.left, whole.right)
        start, end = edge.stretch
        if not (low - SLACK_M <= start < end <= high + SLACK_M):
            yield (
                ("edge", name, "stretch"),
                (f"must go upwards within {'y' if along_y else 'x'} {1e3 * low:.6g} to {1e3 * high:.6g} mm"),
            )
        rim = _along_rim(whole, edge.side, start, end)
        yield from _swallowed(spec, edge.on, rim, ("edge", name, "stretch"))


def _along_rim(whole: Rectangle, side: str, start: float, end: float) -> Rectangle:
    """A strip just inside a stretch of a sheet's rim."""
    thin = 10 * SLACK_M
    strips = {
        "left": Rectangle(whole.left, start, whole.left + thin, end),
        "right": Rectangle(whole.right - thin, start, whole.right, end),
        "front": Rectangle(start, whole.front, end, whole.front + thin),
        "back": Rectangle(start, whole.back - thin, end, whole.back),
    }
    return strips[side]


def _probes(spec: Spec) -> Iterator[Finding]:
    for name, probe in spec.probe.items():
        sheet = sheet_at(spec, probe.on)
        spot = around(probe.at, (0.0, 0.0))
        if sheet is None:
            continue
        if not outline(sheet).holds(spot):
            yield ("probe", name, "at"), f"is not on {probe.on}, {outline(sheet)}"
        for cutout_name, cutout in sheet.cutout.items():
            if rectangle(cutout.corner, cutout.size).holds(spot, -SLACK_M):
                yield ("probe", name, "at"), f'lies in cutout "{cutout_name}" of {probe.on}'
