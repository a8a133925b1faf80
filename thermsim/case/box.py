"""The box, written out as a lid, a floor, four walls and their films, in tables as a user would write."""

from typing import Any

from thermsim.case.errors import Finding, KeyPath
from thermsim.case.options import Draft
from thermsim.case.reading import Raw
from thermsim.case.solid import Box
from thermsim.case.validate import validate_table

WALLS = ("left", "right", "front", "back")


def write_out_box(draft: Draft) -> list[Finding]:
    """Replace [box] by `sheet.lid`, `sheet.floor`, `wall.*` and films `box_*`; says what is wrong with it."""
    if "box" not in draft.raw:
        return []
    box, findings = validate_table(Box, draft.raw["box"], ("box",))
    raw = draft.raw.pop("box")
    if box is None:
        return findings
    for kind, name, table, at in [*_solids(box, raw), *_films(box, raw)]:
        named = draft.raw.setdefault(kind, {})
        if not isinstance(named, dict):
            continue
        if name in named:
            findings.append(((kind, name), f"[box] makes {kind}.{name} itself; give this one another name"))
            continue
        named[name] = table
        draft.origin[kind, name] = draft.written_at(at)
    return [*findings, *_law_findings(box)]


Piece = tuple[str, str, Raw, KeyPath]  # kind, name, table, what in [box] wrote it


def _solids(box: Box, raw: Raw) -> list[Piece]:
    width, depth, height = box.size
    stuff = {"thickness": raw["thickness"], "material": raw["material"]}
    plan = {"corner": raw["corner"], "size": f"{width:.9g} x {depth:.9g} m", **stuff}
    pieces: list[Piece] = [("sheet", name, dict(plan), ("box",)) for name in ("lid", "floor")]
    for side in WALLS:
        run = depth if side in ("left", "right") else width
        joins = ["sheet.lid", "sheet.floor"]
        wall = {"side": side, "size": f"{run:.9g} x {height:.9g} m", **stuff, "joins": joins}
        pieces.append(("wall", side, wall, ("box",)))
    return pieces


def _films(box: Box, raw: Raw) -> list[Piece]:
    """Outside and inside films; `orientation` is where the face looks."""
    width, depth, height = box.size
    flat = width * depth / (2 * (width + depth))  # area over perimeter, the length for level faces
    pieces: list[Piece] = []
    for place in ("outside", "inside"):
        if place not in raw:
            continue
        outside = place == "outside"
        faces = [("lid", "sheet.lid", outside, flat), ("floor", "sheet.floor", not outside, flat)]
        faces += [(side, f"wall.{side}", outside, height) for side in WALLS]
        for name, on, top, length in faces:
            film: dict[str, Any] = {**raw[place], "on": on, "face": "top" if top else "bottom"}
            if film["law"] == "natural":
                vertical = on.startswith("wall.")
                film["orientation"] = "vertical" if vertical else "up" if top else "down"
                film["length"] = f"{length:.9g} m"
            pieces.append(("film", f"box_{name}_{place}", film, ("box", place)))
    return pieces


def _law_findings(box: Box) -> list[Finding]:
    found = _worked_out(box)
    if box.inside is not None and box.inside.emissivity is not None:
        what = "radiates to the room, which the inside does not see; add a [radiation.name] between facing sheets"
        found.append((("box", "inside", "emissivity"), what))
    return found


def _worked_out(box: Box) -> list[Finding]:
    films = (("outside", box.outside), ("inside", box.inside))
    return [
        (("box", place, key), "is worked out from the box; leave it out")
        for place, film in films
        if film is not None and film.law == "natural"
        for key in ("orientation", "length")
        if getattr(film, key) is not None
    ]
