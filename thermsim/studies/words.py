"""Numbers and names in sentences and tables: enough digits, and one rounding."""

from __future__ import annotations

from math import floor

MOST_DIGITS = 4


def told_apart(value: float, *bounds: float | None, digits: int = 1) -> str:
    """A number with as many digits as tell it from each bound that it is not equal to: 50.04 beside 50, not 50.0."""
    near = [bound for bound in bounds if bound is not None and bound != value]
    while digits < MOST_DIGITS and any(round(value, digits) == round(bound, digits) for bound in near):
        digits += 1
    return f"{value:.{digits}f}"


def plain(name: str) -> str:
    """A name of the case file as words: "power_left" becomes "power left"."""
    return name.replace("_", " ")


def percent(share: float | None) -> str:
    """A share in whole per cent, or a dash."""
    return "–" if share is None else f"{round(100 * share)} %"


def safe_share(factor: float) -> str:
    """A share of the watts that is safe, rounded down: "44 %"."""
    return f"{floor(100 * factor)} %"


def safe_watts(watts: float) -> str:
    """Watts that are safe, rounded down: "16.4 W"."""
    return f"{floor(10 * watts) / 10:.1f} W"
