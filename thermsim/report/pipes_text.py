"""A study of heat pipes as plain text: the answer, load against capacity by state, one lost, tilt, what it rests on."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from thermsim.report.text import closing, columns, minutes, number, opening, paragraphs
from thermsim.studies.words import plain

Facts = dict[str, Any]
SHOWN_DEG = (-90, -45, -20, -10, 0, 10, 20, 45, 90)


def pipes_text(facts: Facts, width: int = 110) -> str:
    """The whole report."""
    books = facts["books"]
    blocks = [opening(facts, width, "heat pipes"), state_lines(books), lost_lines(books), tilt_lines(books),
              paragraphs([text for book in books for text in basis_texts(book)], width),
              paragraphs(facts["assumptions"], width), closing(facts, width)]  # fmt: skip
    return "\n\n".join("\n".join(block) for block in blocks if block)


def state_lines(books: Sequence[Facts]) -> list[str]:
    """One line a table of pipes and a state."""
    rows = [["option", "pipes", "state", "load W", "capacity W", "margin", "wanted", "a pipe W", "vapour °C"]]
    for book in books:
        for pipe in book["pipes"]:
            first = [book["option"], f"{pipe['count']} × {plain(pipe['name'])}"]
            for state, told in pipe["states"].items():
                rows.append([
                    *first, in_words(book, state), number(told["load_w"]), number(told["capacity_w"]),
                    number(told["margin"], 2), f"{pipe['wanted_margin']:g}", number(told["load_w"] / pipe["count"]),
                    number(told["vapour_degc"]),
                ])  # fmt: skip
                first = ["", ""]
    return columns(rows, "   rrrrrr")


def in_words(book: Facts, state: str) -> str:
    """A state, with how long it lasts where it does not stay."""
    lasts = book["states"][state]["lasts_s"]
    return state if lasts is None else f"{state}, {minutes(lasts)}"


def lost_lines(books: Sequence[Facts]) -> list[str]:
    """The same with one pipe gone, and the part that then is nearest its limit."""
    rows = [["with one pipe lost", "", "state", "load W", "capacity W", "margin", "nearest its limit", "margin K"]]
    for book in books:
        for pipe in book["pipes"]:
            first = [book["option"], f"{pipe['count'] - 1} × {plain(pipe['name'])} left"]
            for state, told in pipe["lost"].items():
                part, left = nearest(book["limits_degc"], told["parts_degc"])
                dry = told["margin"] is not None and told["margin"] < 1
                margin = "at most " * dry + number(left) if told["parts_degc"] else "none: rises on"
                rows.append([
                    *first, in_words(book, state), number(told["load_w"]), number(told["capacity_w"]),
                    number(told["margin"], 2), plain(part or "–"), margin,
                ])  # fmt: skip
                first = ["", ""]
    return columns(rows, "   rrr r")


def nearest(limits: Facts, degc: Facts | None) -> tuple[str | None, float | None]:
    """The part nearest its limit, or furthest over, and what is left, K."""
    margins = {} if degc is None else {name: limit - degc[name] for name, limit in limits.items()}
    part = min(margins, key=lambda name: margins[name], default=None)
    return part, None if part is None else margins[part]


def tilt_lines(books: Sequence[Facts]) -> list[str]:
    """Capacity at some angles."""
    rows = [["capacity W by tilt (hot end up: +)", *(f"{angle:+d}°" if angle else "level" for angle in SHOWN_DEG)]]
    for book in books:
        for pipe in book["pipes"]:
            tilt = pipe["tilt"]
            if tilt["deg"] is not None:
                at = dict(zip(tilt["deg"], tilt["capacity_w"], strict=True))
                told = [f"{at[min(at, key=lambda deg: abs(deg - angle))]:.0f}" for angle in SHOWN_DEG]
                rows.append([f"{book['option']}, {pipe['count']} × {plain(pipe['name'])}", *told])
    return columns(rows, " " + "r" * len(SHOWN_DEG)) if len(rows) > 1 else []


def basis_texts(book: Facts) -> list[str]:
    """What capacity and resistance rest on."""
    told = []
    for pipe in book["pipes"]:
        name = f"{book['option']}, {plain(pipe['name'])}"
        source = "by its maker" if pipe["capacity_from"] == "maker" else "by its wick"
        wick = pipe["wick_w"]
        beside = f"; the wick alone says {wick:.0f} W" if wick is not None and pipe["capacity_from"] == "maker" else ""
        told.append(
            f"{name}: {pipe['straight_w']:.0f} W straight, level and round {source}{beside}; {pipe['bends']} bends at "
            f"{pipe['bend_factor']:g}, flattened {pipe['flattening_factor']:g}: {pipe['one_w']:.1f} W a pipe"
        )
        conduction = pipe["conduction"]
        if conduction is not None:
            low, high = conduction["wick_k_per_w"]
            span = f"{low:.2g}" if high < 1.05 * low else f"{low:.2g} to {high:.2g}"
            told.append(
                f"{name}: {conduction['stated_k_per_w']:g} K/W end to end is stated, of which the wick costs {span}; a "
                f"solid rod would need {conduction['equivalent_w_per_mk']:.0f} W/mK, and has no limit where it runs dry"
            )
    return told
