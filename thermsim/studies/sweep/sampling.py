"""Draws of inputs that are not known well: what is uncertain in a case, and samples of it.

Sobol points are scrambled (Owen) and best balanced where their count is a power of two; Latin hypercubes take any.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from math import log
from typing import TYPE_CHECKING, Any, Literal, Protocol

from thermsim.case.case import Case
from thermsim.case.targets import Spread, Target, owned_targets, spread_of
from thermsim.case.uncertain import CUT, Uncertain
from thermsim.studies.sweep.practice import usual_spreads

if TYPE_CHECKING:
    from thermsim.model.arrays import Floats

Method = Literal["sobol", "latin"]
Draw = dict[str, Any]  # changes of the case, by address


class Distribution(Protocol):
    """What is asked of a distribution of SciPy's."""

    def ppf(self, q: Floats) -> Floats:
        """The value below which a share `q` of draws lies."""


@dataclass(frozen=True)
class Input:
    """One input that is not known well. It is moved by an *amount*: a factor on, or a shift of, its targets' values."""

    name: str
    targets: tuple[Target, ...]
    spread: Spread
    law: str
    assumed: bool

    @property
    def at_rest(self) -> float:
        """The amount that changes nothing."""
        return 1.0 if self.spread.is_factor else 0.0

    def changes(self, amount: float) -> Draw:
        """The changes of the case that an amount stands for."""
        if self.spread.is_factor:
            return {target.address: target.scaled(amount) for target in self.targets}
        return {target.address: target.shifted(amount) for target in self.targets}

    @cached_property
    def distribution(self) -> Distribution:
        """Of the amount."""
        from scipy import stats

        low, high = self.spread.low, self.spread.high
        middle, half = (low + high) / 2, (high - low) / 2
        if self.law == "uniform":
            found = stats.uniform(low, high - low)
        elif self.law == "triangular":
            found = stats.triang((self.at_rest - low) / (high - low), low, high - low)
        elif self.law == "lognormal":
            # cut as the normal law is, in the logarithm
            return _Exponential(stats.truncnorm(-CUT, CUT, log(low * high) / 2, log(high / low) / 4))
        else:
            found = stats.truncnorm(-CUT, CUT, middle, half / 2)
        distribution: Distribution = found
        return distribution

    def facts(self) -> dict[str, Any]:
        """What is told of it; nominal, low and high in SI (temperatures °C) where it is one number, else as factors."""
        nominal = self.targets[0].nominal
        is_one = nominal is not None and all(target.value == self.targets[0].value for target in self.targets)
        told = [self.at_rest, self.spread.low, self.spread.high]
        if is_one and nominal is not None:
            told = [nominal * amount if self.spread.is_factor else nominal + amount for amount in told]
        return {
            "name": self.name,
            "of": [target.address for target in self.targets],
            "nominal": told[0],
            "low": told[1],
            "high": told[2],
            "dimension": self.targets[0].dimension if is_one else "factor",
            "law": self.law,
            "assumed": self.assumed,
        }


@dataclass(frozen=True)
class _Exponential:
    """The exponential of what another distribution draws."""

    of: Distribution

    def ppf(self, q: Floats) -> Floats:
        import numpy as np

        found: Floats = np.exp(self.of.ppf(q))
        return found


def uncertain_inputs(case: Case) -> list[Input]:
    """What is uncertain in a case: its own [uncertain] tables, or else what usually is, by common practice."""
    assumed = not case.spec.uncertain
    tables: Mapping[str, Uncertain] = usual_spreads(case.spec) if assumed else case.spec.uncertain
    owned = owned_targets(case.spec, {name: table.of for name, table in tables.items()})
    return [
        Input(name, tuple(mine), spread_of(tables[name], mine), tables[name].law, assumed)
        for name, mine in owned.items()
        if mine
    ]


def draws(case: Case, count: int, seed: int = 0, method: Method = "sobol") -> list[Draw]:
    """Samples of the uncertain inputs of a case, each as changes for `Case.with_changes`."""
    return common_draws({"": case}, count, seed, method)[""]


def common_draws(
    cases: Mapping[str, Case], count: int, seed: int = 0, method: Method = "sobol"
) -> dict[str, list[Draw]]:
    """Samples for several cases (the options of one) in which an input that they share is the same in each.

    Compared sample by sample, what is not known well is then off by the same in all of them.
    """
    inputs = {key: uncertain_inputs(case) for key, case in cases.items()}
    names = list(dict.fromkeys(one.name for mine in inputs.values() for one in mine))
    points = dict(zip(names, unit_points(len(names), count, seed, method).T, strict=True))
    nothing: list[Draw] = [{} for _ in range(count)]  # of a case in which all is known well
    return {
        key: amounts_to_draws(mine, {one.name: points[one.name] for one in mine}) if mine else nothing
        for key, mine in inputs.items()
    }


def amounts_to_draws(inputs: list[Input], points: Mapping[str, Floats]) -> list[Draw]:
    """Changes of the case for each sample; `points`: where in its distribution each input lies, by name."""
    amounts = [one.distribution.ppf(points[one.name]) for one in inputs]
    return [
        {
            address: value
            for one, amount in zip(inputs, sample, strict=True)
            for address, value in one.changes(amount).items()
        }
        for sample in zip(*(mine.tolist() for mine in amounts), strict=True)
    ]


def unit_points(inputs: int, count: int, seed: int, method: Method) -> Floats:
    """Points of the unit cube, shape (count, inputs)."""
    import numpy as np
    from scipy.stats import qmc

    if inputs == 0:
        return np.empty((count, 0))
    if method == "latin":
        found: Floats = qmc.LatinHypercube(inputs, rng=seed).random(count)
        return found
    whole: Floats = qmc.Sobol(inputs, scramble=True, rng=seed).random_base2(max(0, (count - 1).bit_length()))
    return whole[:count]
