"""What is matched: inputs of a case that one number moves, what was believed of it before, and how far it may go."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import exp, inf, log

from thermsim.bench.fit.beliefs import belief_of
from thermsim.bench.fit.bounds import bounds_of
from thermsim.case.address import most_allowed
from thermsim.case.case import Case
from thermsim.case.errors import CaseError
from thermsim.case.lines import split_address
from thermsim.case.schema import Spec
from thermsim.case.targets import Target, owned_targets
from thermsim.studies.sweep.practice import usual_spreads
from thermsim.studies.sweep.sampling import Draw

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
    counts as a reading of x. `targets`: by option, where it is there.
    """

    name: str
    is_factor: bool
    middle: float
    prior: float
    pulls: bool
    low: float
    high: float
    targets: Mapping[str | None, tuple[Target, ...]]

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
    first = next(iter(there.values()))
    belief = belief_of(tables, name, spec, first)
    ends = (belief.low, belief.high)
    low, high = bounds_of(case, name, case.spec.fit.bound.get(name), first, belief.is_factor, ends)
    most = [log(most_allowed(one.path) / one.nominal) for one in first if one.nominal and belief.is_factor]
    return Unknown(name, belief.is_factor, belief.middle, belief.prior, belief.pulls, low, min([high, *most]), there)
