"""Where a sheet is too thick for the sources on it: its error against the solution in three dimensions.

A sheet has one temperature through its thickness. Under a small source heat first spreads within the thickness, which a
sheet does not see. The error is estimated with the published solution of one plate: even flux over the source, even
films over the faces, everything else on the plate left out. It corrects nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from thermsim.model.arrays import Floats, Ints
from thermsim.model.links import LinkGroup
from thermsim.model.sheets import SheetCells
from thermsim.model.system import Model
from thermsim.physics.spreading import Slab, spreading
from thermsim.solve.steady import Steady
from thermsim.studies.limits.entry import BOARD, THICK_PLATE, Limit, limit

TOLD_K = 0.5
TOLD_BOARD_K = 1.0  # an upper bound is told from here
TOLD_SHARE = 0.03  # of the rise
LEAST_K = 0.1  # of no interest below, whatever its share
LEAST_FILM = 1e-3  # W/m²K, where nothing else cools a plate
LAYERED = 0.2  # through conductivity over that in the plane: below, it is a board of layers
PATHS = ("part", "joint", "heat pipe")


@dataclass(frozen=True)
class Misread:
    """A heat path on a sheet, the drop the sheet lacks there (K; negative: holds too much), and the rise behind it.

    What gives the heat reads that much low: a part on the sheet, or the sheet where heat leaves it for a sink.
    """

    what: str
    on: str
    low_k: float
    rise_k: float
    layered: bool

    @property
    def matters(self) -> bool:
        """Whether it is worth telling."""
        if self.layered:
            return self.low_k > TOLD_BOARD_K
        off = abs(self.low_k)
        return off > TOLD_K or off > max(LEAST_K, TOLD_SHARE * abs(self.rise_k))


def plate_limits(model: Model, steadies: Sequence[Steady]) -> Iterator[Limit]:
    """Thick plates and layered boards under small sources, at the worst of some steady states."""
    worst: dict[tuple[str, str], Misread] = {}
    for steady in steadies:
        for one in misread(model, steady):
            key = (one.what, one.on)
            if key not in worst or abs(one.low_k) > abs(worst[key].low_k):
                worst[key] = one
    told = sorted((one for one in worst.values() if one.matters), key=lambda one: -abs(one.low_k))
    for name, layered in ((THICK_PLATE, False), (BOARD, True)):
        those = [one for one in told if one.layered is layered]
        low = [one for one in those if one.low_k > 0]
        if those:
            yield _told(name, low or those)  # none on the safe side beside those that are not


def _told(name: str, those: Sequence[Misread]) -> Limit:
    first, kelvin = those[0], abs(those[0].low_k)
    if name == BOARD:
        text = (
            f"laminate between {first.what} and the copper in {first.on} may take up to {kelvin:.1f} K more than is "
            "told, an upper bound. If no vias bridge it, add that to its resistance"
        )
    else:
        more, way = ("more", "low") if first.low_k > 0 else ("less", "high, the safe side")
        text = (
            f"heat of {first.what} takes about {kelvin:.1f} K {more} in {first.on} than told{_percent(first)}, so what "
            f"gives it reads {way}: by the published solution of one plate in three dimensions; an estimate, not put "
            "into the result" + (". Keep that margin, or add it to the joint" if first.low_k > 0 else "")
        )
    return limit(
        name, (one.what for one in those), text, kelvin,
        error_k=first.low_k, error_share=first.low_k / first.rise_k if first.rise_k else 0.0,
    )  # fmt: skip


def _percent(one: Misread) -> str:
    share = abs(one.low_k / one.rise_k) if one.rise_k else 0.0
    return f", {100 * share:.0f} % of the rise" if 0.01 <= share < 1 else ""


def misread(model: Model, steady: Steady) -> Iterator[Misread]:
    """Every source on a sheet: parts, joints, ends of heat pipes, and heat put into a rectangle."""
    full, room = steady.conditions.temperature, model.case.spec.room.temperature
    for address, sheet in model.site.sheets.items():
        mine = np.zeros(full.size, dtype=bool)
        mine[sheet.node[sheet.node >= 0]] = True
        films = _films(model, steady, address, mine)
        for k, group in enumerate(model.groups):
            at_receiver, at_sender = mine[group.receiver], mine[group.sender]
            if group.kind not in PATHS or at_receiver.any() == at_sender.any():
                continue
            ends, others = (group.receiver, group.sender) if at_receiver.any() else (group.sender, group.receiver)
            heat = model.flow(group, steady.strengths.get(k, 1.0), full)
            lacks = _lacks(sheet, films, ends, _face(model, group), _to_face(model, group))
            if _layered(sheet):
                lacks = max(lacks - _to_board(model, group), 0.0)
            rise = max(float(full[nodes].mean()) for nodes in (ends, others)) - room  # of what gives the heat
            yield Misread(_what(group), address, abs(float(heat.sum())) * lacks, rise, _layered(sheet))
        for name, source in model.case.spec.source.items():
            if source.on == address and source.corner is not None and source.density is None:
                nodes = sheet.node[sheet.inside(source.corner, source.size)]
                watts = float((model.program.heat @ steady.inputs.watts)[nodes].sum())
                low = watts * _lacks(sheet, films, nodes, None, to_face=False)
                yield Misread(f"source.{name}", address, low, float(full[nodes].mean()) - room, _layered(sheet))


def _what(group: LinkGroup) -> str:
    """The address in a group's name: "part.fpga to its board" is of part.fpga."""
    return group.name.split(" to its ")[0].split(" at ")[0]


def _to_face(model: Model, group: LinkGroup) -> bool:
    """Whether a group's links hold half the sheet's thickness: joints stated per area do."""
    joint = model.case.spec.joint.get(group.name.removeprefix("joint.")) if group.kind == "joint" else None
    return joint is not None and joint.resistance is None


def _face(model: Model, group: LinkGroup) -> str | None:
    part = model.case.spec.part.get(_what(group).removeprefix("part."))
    return part.face if part else None


def _to_board(model: Model, group: LinkGroup) -> float:
    """A part's resistance to its board, K/W: measured (JEDEC JESD51-8) it holds the laminate under the part too."""
    part = model.case.spec.part.get(_what(group).removeprefix("part.")) if group.kind == "part" else None
    return part.to_board or 0.0 if part else 0.0


def _layered(sheet: SheetCells) -> bool:
    solid = sheet.node >= 0
    through = sheet.thickness / 2 / sheet.half
    return bool(np.median((through * sheet.thickness / sheet.sheet_x.clip(1e-30))[solid]) < LAYERED)


def _films(model: Model, steady: Steady, address: str, mine: NDArray[np.bool_]) -> dict[str, float]:
    """Conductance to air by face, and of a channel in the middle, over the whole sheet's area, W/m²K."""
    films = model.case.spec.film
    area = float(model.site.ends(address).area.sum())
    found = {"top": 0.0, "bottom": 0.0, "middle": 0.0}
    for k, group in enumerate(model.groups):
        here = mine[group.receiver] | mine[group.sender]
        if group.kind not in ("film", "radiation", "channel film") or not here.any():
            continue
        film = films.get(group.name.removesuffix(" radiation").removeprefix("film."))
        where = "middle" if group.kind == "channel film" else film.face if film and film.on == address else None
        if where:
            found[where] += float((steady.strengths.get(k, 1.0) * group.weight)[here].sum()) / area
    return found


def _lacks(sheet: SheetCells, films: dict[str, float], nodes: Ints, face: str | None, to_face: bool) -> float:
    """Resistance that the sheet lacks under a source, K/W: the solid's, less the sheet's and what its link holds."""
    inside = np.isin(sheet.node, nodes) & (sheet.node >= 0)
    rows, columns = np.flatnonzero(inside.any(axis=1)), np.flatnonzero(inside.any(axis=0))
    x, y = (sheet.x[columns[0]], sheet.x[columns[-1] + 1]), (sheet.y[rows[0]], sheet.y[rows[-1] + 1])
    own = (int(rows[rows.size // 2]), int(columns[columns.size // 2]))
    thickness, half = float(sheet.thickness[own]), float(sheet.half[own])
    k = (float(sheet.sheet_x[own]) / thickness, float(sheet.sheet_y[own]) / thickness, thickness / 2 / half)
    if face is None:  # unknown: heat comes in where less of it leaves
        face = min(("top", "bottom"), key=lambda one: films[one])
    near, far = (_at_face(films[one], half) for one in (face, "top" if face == "bottom" else "bottom"))
    slab = Slab(
        (float(np.ptp(sheet.x)), float(np.ptp(sheet.y))), thickness, k, near, films["middle"], max(far, LEAST_FILM)
    )
    centre = (sum(x) / 2 - float(sheet.x[0]), sum(y) / 2 - float(sheet.y[0]))
    found = spreading(slab, centre, (float(x[1] - x[0]), float(y[1] - y[0])))
    held = half / float(sheet.area[inside].sum()) if to_face else 0.0
    return found.solid - found.sheet - held


def _at_face(conductance: float | Floats, half: float) -> float:
    """A film at the face, from its conductance through half the thickness too."""
    left = 1.0 - float(conductance) * half
    return float(conductance) / left if left > 1e-6 else 1e6
