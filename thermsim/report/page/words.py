"""Numbers and words as the page writes them: true minus signs, enough digits, plain names."""

from __future__ import annotations

import re

from thermsim.case.schema import Spec
from thermsim.report.text import number
from thermsim.studies.words import plain, told_apart

ADDRESS = re.compile(rf"\b({'|'.join(Spec.model_fields)})\.(?=[^\W\d])")  # of a kind of things of a case
COMMAND = re.compile("`([^`]+)`")
MINUS = re.compile(r"(?<![\w.–−-])-(?=\d)")


def signed(value: float | None, digits: int = 1, plus: bool = False) -> str:
    """A number with a true minus sign, or a dash where there is none."""
    if value is None:
        return "–"
    text = number(round(value, digits) + 0.0, digits)  # + 0.0: no minus before a zero
    return (f"+{text}" if plus and value > 0 else text).replace("-", "−")


def margin(value: float | None) -> str:
    """A margin with its sign, never a bare zero where there is a little."""
    return "–" if value is None else f"{'+' if value > 0 else ''}{apart(value, 0.0)}"


def apart(value: float | None, bound: float | None) -> str:
    """A number with as many digits as tell it from its bound."""
    return "–" if value is None else told_apart(value, bound).replace("-", "−")


def in_words(text: str) -> str:
    """Text of the studies in plain words: "fan.pair at -1.0" becomes "fan pair at −1.0"."""
    return COMMAND.sub(r"“\1”", MINUS.sub("−", plain(ADDRESS.sub(r"\1 ", text))))


def share(value: float | None) -> str:
    """A share in per cent, or a dash."""
    return "–" if value is None else f"{signed(100 * value, 0)} %"
