"""Headers of a log: a name and perhaps a unit, "T1 [°C]", "U/V", "Fan (rpm)", "I, A"; which channel each is."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from thermsim import units
from thermsim.case.names import printable

_BRACKETED = re.compile(r"(.*\S)\s*(?:\[(?P<square>.*)\]|\((?P<round>[^()]*(?:\([^()]*\))?)\))", re.DOTALL)
_BEHIND = re.compile(r"(.*\S)\s*[/,]\s*(\S.*)", re.DOTALL)  # behind the last slash or comma
_SPACED = re.compile(r"(.*?\S)\s+(deg\.? ?[CFK]|\S{2,}|%)", re.DOTALL)

# what loggers write for a unit of `thermsim.units`, in any case and with spaces or without
_ALIASES = {
    "degc": "degC", "celsius": "degC", "degf": "degF", "fahrenheit": "degF", "kelvin": "K", "degk": "K",
    "rpm": "rpm", "u/min": "rpm", "min-1": "rpm", "r/min": "rpm", "%rh": "%", "%r.h.": "%", "%rf": "%",
    "volt": "V", "volts": "V", "vdc": "V", "amp": "A", "amps": "A", "ampere": "A", "watt": "W", "watts": "W",
    "sec": "s", "secs": "s", "second": "s", "seconds": "s", "mins": "min", "minute": "min", "minutes": "min",
    "hr": "h", "hrs": "h", "hour": "h", "hours": "h", "lpm": "L/min", "db(a)": "dB(A)", "dba": "dB(A)",
    "h:mm:ss": "h:mm:ss", "hh:mm:ss": "h:mm:ss", "mm:ss": "mm:ss", "h:mm": "h:mm", "hh:mm": "h:mm",
}  # fmt: skip
_SIGNS = str.maketrans({"℃": "°C", "℉": "°F", "º": "°", "˚": "°", "\u00a0": " ", "\u202f": " ", "\ufeff": ""})


@dataclass(frozen=True)
class Header:
    """A header taken apart. `strange`: in square brackets, but no unit that is known. `loose`: perhaps no unit."""

    name: str
    unit: str | None = None
    strange: str | None = None
    loose: bool = False


def plain(header: str) -> str:
    """A header with single spaces, one sign for degrees, and without the mark of a comment before it."""
    return printable(" ".join(header.translate(_SIGNS).split()).lstrip("#").strip().strip('"').strip())


def unit_of(text: str) -> str | None:
    """A unit as `thermsim.units` has it, or a form of time; None if the text is no unit."""
    cleaned = plain(text)
    if cleaned and units.is_unit(cleaned):
        return cleaned
    return _ALIASES.get(re.sub(r"\s+", "", cleaned.casefold()).replace("°", "deg").replace("deg.", "deg"))


def take_apart(header: str) -> Header:
    """Name and unit of a header."""
    text = plain(header)
    found = None if text.endswith(" dB(A)") else _BRACKETED.fullmatch(text)
    if found:
        square = found["square"]
        unit = unit_of(found["round"] if square is None else square)
        strange = unit is None and square is not None and not square.isdigit()
        return Header(found[1], unit, square if strange else None) if unit or strange else Header(text)
    for pattern in (_BEHIND, _SPACED):
        found = pattern.fullmatch(text)
        unit = unit_of(found[2]) if found else None
        if found and unit:
            return Header(found[1], unit, loose=pattern is _SPACED)
    return Header(text)


def matching(wanted: str, headers: Sequence[str]) -> list[int]:
    """Numbers of the headers that are this one: to the letter, or else without their units."""
    target = plain(wanted)
    exact = [number for number, header in enumerate(headers) if plain(header) == target]
    return exact or [number for number, header in enumerate(headers) if take_apart(header).name == target]
