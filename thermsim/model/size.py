"""How large a case is, told from its tables and grid before anything of that size is made."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from pathlib import Path

from thermsim.case.schema import Spec
from thermsim.model.available import available_bytes
from thermsim.model.grid import Grid, unusable
from thermsim.model.memory import MODEL_BYTES, TYPICAL_STACKING, size_text, too_large
from thermsim.model.program import longest_step, stops_in

MOST_STEPS = 1_000_000  # that a duty alone may ask for; each takes about a millisecond
YEAR = 365.25 * 86400.0  # s
LONGEST_RUN = 100 * YEAR  # no box lasts longer, and steps are of four months at most
STORED_BYTES = 4  # of a temperature of a frame
PACKED = 8  # times smaller on the disk, at the very best
READ_BYTES = 8  # of one that is read back


@dataclass(frozen=True)
class Size:
    """Cells of all sheets, and unknowns with those of streams and lumps; `stacking`: sheets face to face, about."""

    cells: int
    unknowns: int
    stacking: float


def size_of(spec: Spec, grid: Grid) -> Size:
    """The size of the model that a case gives on this grid, cutouts counted as if they were not."""
    sheets = [*spec.sheet.values(), *spec.plate.values()]
    cells = 0
    for sheet in sheets:
        columns = grid.columns(sheet.corner[0], sheet.corner[0] + sheet.size[0])
        rows = grid.rows(sheet.corner[1], sheet.corner[1] + sheet.size[1])
        cells += (columns.stop - columns.start) * (rows.stop - rows.start)
    streams = sum(way.segments for way in spec.airway.values()) + sum(hose.segments for hose in spec.hose.values())
    streams += sum(plate.channel.segments * len(plate.channel.grooves) for plate in spec.plate.values())
    return Size(cells, cells + streams + len(spec.part), min(max(len(sheets), 1), TYPICAL_STACKING))


def refuse_absurd(spec: Spec, grid: Grid) -> None:
    """Raise `CaseError` where a case would not fit into memory, or would never end."""
    size = size_of(spec, grid)
    reason = too_large(size.unknowns, size.stacking, spec.run.cell, MODEL_BYTES)
    if reason is not None:
        raise unusable("run.cell", reason)
    _refuse_frames(spec, size.cells, READ_BYTES, available_bytes(), "of memory", "available")
    if spec.run.duration > LONGEST_RUN:
        years = spec.run.duration / YEAR
        raise unusable("run.duration", f"must be at most {LONGEST_RUN / YEAR:.0f} years; got {years:.3g} years")
    for name, duty in spec.duty.items():
        steps = stops_in(duty, spec.run.duration) + spec.run.duration / longest_step(duty)
        if steps > MOST_STEPS:
            raise unusable(
                f"duty.{name}",
                f"asks for about {steps:.1g} steps in run.duration = {spec.run.duration:.6g} s; {MOST_STEPS:,} are the "
                "most: shorten the run, or lengthen the period",
            )


def refuse_without_room(spec: Spec, cells: int, folder: Path) -> None:
    """Raise `CaseError` where the frames of a run cannot find room on the disk, however well they are packed."""
    there = next(one for one in (folder, *folder.resolve().parents) if one.exists())
    free = shutil.disk_usage(there).free
    _refuse_frames(spec, cells, STORED_BYTES / PACKED, free, "on the disk", f"free at {there}")


def _refuse_frames(spec: Spec, cells: int, each: float, there: float, kind: str, how: str) -> None:
    frames = spec.run.frames
    if each * frames * cells > there:
        raise unusable(
            "run.frames",
            f"{frames:,} frames of {cells:,} cells need {size_text(each * frames * cells)} {kind}, and "
            f"{size_text(there)} is {how}; {max(int(there / each / cells), 2):,} frames would fit",
        )
