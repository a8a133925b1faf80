"""What is matched: inputs of a case that one number moves, what was believed of it before, and how far it may go."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from math import exp, inf, log, sqrt

from thermsim import units
from thermsim.case.address import most_allowed
from thermsim.case.case import Case
from thermsim.case.errors import CaseError
from thermsim.case.fitting import FitBound
from thermsim.case.lines import split_address
from thermsim.case.schema import Spec
from thermsim.case.targets import Spread, Target, owned_targets, spread_of, targets
from thermsim.case.uncertain import Uncertain
from thermsim.studies.sweep.practice import usual_spreads
from thermsim.studies.sweep.sampling import Draw

BASE = None  # the base case among options
FARTHEST = 10.0  # factor that an unknown may go from the case's value, unless stated
# joints, films and losses: what nobody knows before a test (common practice, no source)
USUAL = {
    "joint": ("resistance", "resistivity", "conductance", "bond_line"),
    "film": ("h", "emissivity"),
    "sink": ("resistance",),
    "part": ("to_board",),
    "sheet": ("conductivity",),
    "radiation": ("emissivity",),
    "radiator": ("conductance",),
    "heat_pipe": ("resistance",),
    "edge": ("h",),
}  # fmt: skip
Options = Mapping[str | None, Case]


@dataclass(frozen=True)
class Unknown:
    """One number to be found, x: the logarithm of a factor on its targets' values, or a shift of them.

    `middle` and `prior`: what was believed of x and its standard uncertainty (infinite: nothing); `pulls`: whether that
    counts as a reading of x. `targets`: by option, where it is there. `table`: the [uncertain] table of that name.
    """

    name: str
    is_factor: bool
    middle: float
    prior: float
    pulls: bool
    low: float
    high: float
    targets: Mapping[str | None, tuple[Target, ...]]
    table: Uncertain | None = field(default=None, repr=False)

    def amount(self, x: float) -> float:
        """The factor or shift that x stands for."""
        return exp(x) if self.is_factor else x

    def changes(self, option: str | None, x: float) -> Draw:
        """Changes of an option's case; none where the unknown is not in it."""
        amount, mine = self.amount(x), self.targets.get(option, ())
        return {one.address: one.scaled(amount) if self.is_factor else one.shifted(amount) for one in mine}

    @property
    def scale(self) -> float:
        """A typical change of x, for steps and bounds."""
        return self.prior if self.prior < inf else 0.3

    @property
    def single(self) -> Target | None:
        """Its target, if all of them are one value: then it is told in its own unit."""
        every = [one for mine in self.targets.values() for one in mine]
        return every[0] if all(one.value == every[0].value for one in every) and every[0].nominal is not None else None

    @property
    def is_watts(self) -> bool:
        """Whether it moves any watts."""
        return any(one.dimension == "power" or "watts" in one.path for mine in self.targets.values() for one in mine)

    def told(self, x: float) -> float:
        """x as it is told: the value in SI (°C) where there is one, else the factor or shift."""
        single, amount = self.single, self.amount(x)
        if single is None or single.nominal is None:
            return amount
        return single.nominal * amount if self.is_factor else single.nominal + amount


def default_unknowns(spec: Spec) -> list[str]:
    """Names of the [uncertain] tables, or of what usually is uncertain, that move nothing but joints, films, losses."""
    tables = spec.uncertain or usual_spreads(spec)
    return [name for name, table in tables.items() if all(_is_usual(address) for address in table.of)]


def _is_usual(address: str) -> bool:
    path = split_address(address) or ("",)
    return path[-1] in USUAL.get(path[0], ())


def unknowns_of(case: Case, options: Options, also_watts: bool) -> list[Unknown]:
    """The unknowns of a case that are there in the options that were logged. Raises `CaseError` with what is wrong."""
    fit, asked = case.spec.fit, bool(case.spec.fit.unknowns)
    tables = case.spec.uncertain or usual_spreads(case.spec)
    names = list(dict.fromkeys(fit.unknowns or default_unknowns(case.spec)))
    named = {name: tables[name].of if name in tables else (name,) for name in names}
    # a table that is not matched keeps what it spells out: it is no business of another's wildcard
    every = named | {name: table.of for name, table in tables.items() if name not in named}
    owned = {option: owned_targets(variant.spec, every) for option, variant in options.items()}
    found = []
    for number, name in enumerate(names):
        at = ("fit", "unknowns", number) if asked else ("uncertain", name)
        there = {option: tuple(mine[name]) for option, mine in owned.items() if mine[name]}
        unknown = _unknown(case, options[next(iter(there))].spec, name, there) if there else None
        if unknown is None:
            if asked:
                raise CaseError([case.problem(at, f'"{name}" is in none of the options that were logged')])
            continue
        is_group = name in case.spec.uncertain
        if unknown.is_watts and is_group and not (also_watts or fit.also_watts):
            message = (
                f'"{name}" moves watts, which a wattmeter knows better than a fit, and watts and joints are hard to '
                "tell apart; say also_watts = true (or --also-watts) to match them all the same"
            )
            raise CaseError([case.problem(at, message)])
        found.append(unknown)
    if not found:
        message = 'nothing to match: name the unknowns, such as ["joint.paste.resistance"]'
        raise CaseError([case.problem(("fit", "unknowns"), message)])
    return found


def _unknown(case: Case, spec: Spec, name: str, there: Mapping[str | None, tuple[Target, ...]]) -> Unknown:
    """An unknown that moves `there`; `spec`: of the first option that has it."""
    tables = case.spec.uncertain or usual_spreads(case.spec)
    table = tables.get(name)
    first = list(next(iter(there.values())))
    believed = table or _around(tables, {one.address for one in first}, spec)
    spread = None
    if believed is not None:
        try:
            spread = spread_of(believed, first)
        except ValueError:  # low and high of a group stand for one value, of which this is not one
            believed = None
    is_factor = all(one.dimension != "temperature" for one in first) and (spread is None or _positive(spread, first))
    middle, prior, pulls, low, high = _prior(believed, spread, first, is_factor)
    low, high = _bounds(case, name, case.spec.fit.bound.get(name), first, is_factor, (low, high))
    most = [log(most_allowed(one.path) / one.nominal) for one in first if one.nominal and is_factor]
    return Unknown(name, is_factor, middle, prior, pulls, low, min([high, *most]), there, table)


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


def _prior(
    table: Uncertain | None, spread: Spread | None, found: Sequence[Target], is_factor: bool
) -> tuple[float, float, bool, float, float]:
    """Middle and standard uncertainty of x, whether they pull, and the ends beyond which it was not believed to go."""
    reach = log(FARTHEST) if is_factor else inf
    if table is None or spread is None:
        return 0.0, inf, False, -reach, reach
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


def _bounds(
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
