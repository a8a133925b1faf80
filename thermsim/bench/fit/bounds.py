"""How far an unknown may go: as [fit.bound] states it, in place of what was believed."""

from __future__ import annotations

from collections.abc import Sequence
from math import log

from thermsim import units
from thermsim.case.case import Case
from thermsim.case.errors import CaseError
from thermsim.case.fitting import FitBound
from thermsim.case.targets import Target


def bounds_of(
    case: Case, name: str, bound: FitBound | None, found: Sequence[Target], is_factor: bool, ends: tuple[float, float]
) -> tuple[float, float]:
    """The ends of x, those that [fit.bound] states in place of what was believed."""
    if bound is None:
        return ends
    read = [_end(case, name, key, getattr(bound, key), found, is_factor) for key in ("low", "high")]
    low, high = (given if given is not None else end for given, end in zip(read, ends, strict=True))
    if low >= high:
        raise CaseError([case.problem(("fit", "bound", name), "low must be below high")])
    return low, high


def _end(
    case: Case, name: str, key: str, text: str | float | None, found: Sequence[Target], is_factor: bool
) -> float | None:
    if text is None:
        return None
    first = found[0]

    def wrong(message: str) -> CaseError:
        return CaseError([case.problem(("fit", "bound", name, key), message)])

    try:
        if isinstance(text, str) and text.strip().endswith("%") and is_factor:
            share = units.quantity(text, "fraction")
        elif first.nominal is None or any(one.value != first.value for one in found):
            raise wrong('moves values that differ; say a share of the case\'s, such as "50 %"')
        elif first.dimension is None and isinstance(text, int | float):
            share = float(text) / first.nominal if is_factor else float(text) - first.nominal
        else:
            value = units.quantity(text, first.dimension or "fraction")
            share = value / first.nominal if is_factor else value - first.nominal
    except units.UnitError as error:
        raise wrong(str(error)) from None
    if is_factor and share <= 0:
        raise wrong("must be above zero")
    return log(share) if is_factor else share
