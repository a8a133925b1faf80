"""What was believed of an unknown before the bench: the middle, its standard uncertainty, and how far it may go."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import inf, log, sqrt

from thermsim.case.schema import Spec
from thermsim.case.targets import Spread, Target, spread_of, targets
from thermsim.case.uncertain import Uncertain

FARTHEST = 10.0  # factor that an unknown may go from the case's value, unless stated


@dataclass(frozen=True)
class Belief:
    """Of x, the logarithm of a factor (`is_factor`) or a shift.

    `middle` and `prior`: what was believed and its standard uncertainty (infinite: nothing); `pulls`: whether that
    counts as a reading of x; `low`, `high`: the ends beyond which it was not believed to go.
    """

    is_factor: bool
    middle: float
    prior: float
    pulls: bool
    low: float
    high: float


def belief_of(tables: Mapping[str, Uncertain], name: str, spec: Spec, found: Sequence[Target]) -> Belief:
    """What the [uncertain] tables say of targets: the table of that name, else one that speaks of them among others."""
    table = tables.get(name) or _around(tables, {one.address for one in found}, spec)
    spread = None
    if table is not None:
        try:
            spread = spread_of(table, list(found))
        except ValueError:  # low and high of a group stand for one value, of which this is not one
            table = None
    is_factor = all(one.dimension != "temperature" for one in found) and (spread is None or _positive(spread, found))
    if table is None or spread is None:
        reach = log(FARTHEST) if is_factor else inf
        return Belief(is_factor, 0.0, inf, False, -reach, reach)
    return Belief(is_factor, *_by_law(table, spread, found, is_factor))


def _around(tables: Mapping[str, Uncertain], addresses: set[str], spec: Spec) -> Uncertain | None:
    """The table that speaks of some addresses among others."""
    for table in tables.values():
        if addresses <= {one.address for address in table.of for one in _targets(spec, address)}:
            return table
    return None


def _targets(spec: Spec, address: str) -> Iterator[Target]:
    try:
        yield from targets(spec, address)
    except ValueError:
        return


def _positive(spread: Spread, found: Sequence[Target]) -> bool:
    """Whether every value within a spread is above zero, so that it can be taken as a factor."""
    if spread.is_factor:
        return spread.low > 0
    return all(one.nominal is not None and one.nominal + spread.low > 0 for one in found)


def _by_law(
    table: Uncertain, spread: Spread, found: Sequence[Target], is_factor: bool
) -> tuple[float, float, bool, float, float]:
    """Middle and standard uncertainty of x, whether they pull, and the ends."""
    reach = log(FARTHEST) if is_factor else inf
    low, high = spread.low, spread.high
    if is_factor and not spread.is_factor:
        nominal = float(found[0].nominal or 1.0)
        low, high = 1 + low / nominal, 1 + high / nominal
    if table.law in ("normal", "lognormal"):
        if not is_factor:
            return (low + high) / 2, (high - low) / 4, True, -reach, reach
        if table.law == "lognormal":
            return log(low * high) / 2, log(high / low) / 4, True, -reach, reach
        return log((low + high) / 2), (high - low) / 2 / (high + low), True, -reach, reach
    low, high = (log(low), log(high)) if is_factor else (low, high)
    if table.law == "uniform":
        return (low + high) / 2, (high - low) / sqrt(12), False, low, high
    variance = (low**2 + high**2 - low * high) / 18  # of a triangle with its peak at 0
    return (low + high) / 3, sqrt(variance), True, low, high
