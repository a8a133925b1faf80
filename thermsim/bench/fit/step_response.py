"""What a temperature that rises to a new value tends to, how soon, and how sure that is from a record of it.

One or two exponentials, whichever the record tells; a short record gives a wide uncertainty, not a wrong number.
Standard uncertainties are widened by how much neighbouring readings repeat each other (`correlated.inflation`). That of
the end has a part for the curve's form, since a box has more time constants than two: how far the end moves when the
first readings are left out, beyond what noise alone may move it (J. A. Hausman, Econometrica 46, 1978).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from math import hypot, sqrt
from typing import Any

import numpy as np

from thermsim.bench.fit.correlated import inflation
from thermsim.bench.fit.exponentials import Exponentials, fit_exponentials
from thermsim.model.arrays import Floats

FEWEST = 6  # readings
BEYOND_CHANCE = 1e-3  # probability, under which one more exponential is not put down to chance
NOTHING_LEFT = 1.2  # readings per independent one, under which a curve has left nothing for another exponential
FEWEST_FREE = 3  # degrees of freedom in that test, however much readings repeat each other
SHORT = 3.0  # time constants, a shorter record is extrapolated: 5 % are left after three
LEFT_OUT = 0.3  # of the record, the first part without which the end should stay
SPECTRUM = 0.1  # of what is still to come, by what time constants that nobody saw; common practice, no source
KNOWN = 0.5  # relative standard uncertainty, beyond which a time constant is as good as unknown


class TooShort(ValueError):
    """A record with too few readings. The message says so."""


@dataclass(frozen=True)
class Value:
    """A value and its standard uncertainty."""

    value: float
    standard: float


@dataclass(frozen=True)
class StepResponse:
    """A record's fit. Time counts from its first reading; values are in the record's unit."""

    curve: Exponentials
    inflation: float  # readings per independent one
    noise: float  # standard deviation of one reading, known beforehand; 0 where it is not
    form: float = 0.0  # standard uncertainty of the end, by the curve's form

    @property
    def kind(self) -> str:
        """What was fitted."""
        return ("no change", "one exponential", "two exponentials")[self.curve.count]

    @cached_property
    def degrees_of_freedom(self) -> float:
        """Independent readings more than coefficients, at least 1."""
        return max(self.curve.time.size / self.inflation - self.curve.coefficients, 1.0)

    @cached_property
    def residual(self) -> float:
        """Standard deviation of the readings about the curve."""
        return sqrt(self.curve.solution.squares / max(self.curve.time.size - self.curve.coefficients, 1))

    @cached_property
    def covariance(self) -> Floats:
        """Of the coefficients, widened for readings that repeat each other."""
        count = self.curve.time.size
        independent = count / self.inflation
        variance = self.curve.solution.squares / count * independent / self.degrees_of_freedom
        found: Floats = max(variance, self.noise**2) * self.inflation * self.curve.solution.inverse
        return found

    @cached_property
    def end(self) -> Value:
        """What it tends to."""
        return Value(self.curve.end, hypot(sqrt(self.covariance[0, 0]), self.form))

    @cached_property
    def time_constants(self) -> tuple[Value, ...]:
        """The quick one first, s."""
        taus, first = self.curve.time_constants, self.curve.coefficients - self.curve.count
        standard = np.sqrt(np.diag(self.covariance))[first:]
        return tuple(Value(float(tau), float(tau * u)) for tau, u in zip(taus, standard, strict=True))

    @cached_property
    def at_last(self) -> Value:
        """Where it stands at the record's end."""
        return self._along(self.curve.slopes(self.curve.time[-1:])[0], float(self.curve.at(self.curve.time[-1:])[0]))

    @cached_property
    def still_to_come(self) -> Value:
        """From the record's end to what it tends to."""
        slopes = -self.curve.slopes(self.curve.time[-1:])[0]
        slopes[0] += 1.0
        along = self._along(slopes, self.end.value - self.at_last.value)
        return Value(along.value, hypot(along.standard, self.form))

    def _along(self, slopes: Floats, value: float) -> Value:
        return Value(value, sqrt(max(float(slopes @ self.covariance @ slopes), 0.0)))

    @property
    def length(self) -> float:
        """The record in its slowest time constants; infinite where nothing changes."""
        if not self.time_constants:
            return float("inf")
        return float(self.curve.time[-1] - self.curve.time[0]) / self.time_constants[-1].value

    @property
    def is_extrapolated(self) -> bool:
        """Whether the record ended so early that what it tends to rests on the curve."""
        return self.length < SHORT

    @property
    def is_known(self) -> bool:
        """Whether the slowest time constant is told at all."""
        return all(one.standard < KNOWN * one.value for one in self.time_constants[-1:])

    def interval(self, confidence: float = 0.95) -> tuple[float, float]:
        """Ends between which the end value lies (Student's t), for this confidence."""
        from scipy.stats import t

        half = float(t.ppf(0.5 + confidence / 2, self.degrees_of_freedom)) * self.end.standard
        return self.end.value - half, self.end.value + half

    def facts(self) -> dict[str, Any]:
        """All of this as plain values."""
        length = self.length
        return {
            "kind": self.kind, "end": self.end.value, "end_u": self.end.standard,
            "time_constants_s": [one.value for one in self.time_constants],
            "time_constants_u_s": [one.standard for one in self.time_constants],
            "at_last": self.at_last.value, "at_last_u": self.at_last.standard,
            "still_to_come": self.still_to_come.value, "still_to_come_u": self.still_to_come.standard,
            "length_in_time_constants": None if np.isinf(length) else length,
            "extrapolated": self.is_extrapolated, "known": self.is_known, "residual": self.residual,
            "readings_per_independent_one": self.inflation, "degrees_of_freedom": self.degrees_of_freedom,
        }  # fmt: skip


def step_response(
    time: Floats, values: Floats, noise: float = 0.0, starts_at: float | None = None, most: int = 2
) -> StepResponse:
    """The response that a record (s; NaN where missing) tells, of `most` exponentials at most. Raises `TooShort`.

    `noise`: standard deviation of a reading that is known beforehand; what is left of the fit counts where it is more.
    `starts_at`: the value at the first time, where that is known without error.
    """
    there = np.isfinite(values)
    time, values = np.asarray(time[there], dtype=float), np.asarray(values[there], dtype=float)
    if time.size < FEWEST or not time[-1] > time[0]:
        raise TooShort(f"{time.size} readings are too few to tell what they tend to; {FEWEST} are the least")
    time = time - time[0]
    found = _response(fit_exponentials(time, values, 0 if starts_at is None else 1, starts_at), noise)
    for count in range(found.curve.count + 1, most + 1):
        if count == 2 and found.inflation < NOTHING_LEFT:
            break
        richer = _response(fit_exponentials(time, values, count, starts_at), noise)
        # a second one too slow to be told would leave the end open; the first alone then has a wider uncertainty
        if count == 2 and not richer.is_known:
            break
        # where one alone fits too badly to be told from none, two may do
        if _is_better(richer.curve, found.curve):
            found = richer
    return found if starts_at is not None or not found.curve.count else replace(found, form=_form(found))


def _form(found: StepResponse) -> float:
    """Standard uncertainty of the end by the form of its curve."""
    time, values = found.curve.time, found.curve.values
    late = time >= LEFT_OUT * time[-1]
    moved = 0.0
    if np.count_nonzero(late) >= FEWEST:
        again = _response(fit_exponentials(time[late] - time[late][0], values[late], 1), found.noise)
        noise = again.end.standard**2 - found.end.standard**2
        moved = sqrt(max((again.end.value - found.end.value) ** 2 - max(noise, 0.0), 0.0))
    return hypot(moved, SPECTRUM * found.still_to_come.value)


def _response(curve: Exponentials, noise: float) -> StepResponse:
    return StepResponse(curve, inflation(curve.solution.residuals, curve.coefficients), noise)


def _is_better(richer: Exponentials, plain: Exponentials) -> bool:
    """Whether more exponentials leave less than chance would (F test among independent readings)."""
    from scipy.stats import f

    more = richer.coefficients - plain.coefficients
    independent = richer.time.size / inflation(richer.solution.residuals, 0)
    free = max(independent - richer.coefficients, FEWEST_FREE)
    least = np.finfo(float).eps * max(float(np.square(richer.values).sum()), np.finfo(float).tiny)
    if plain.solution.squares <= least:
        return False
    ratio = (plain.solution.squares - richer.solution.squares) / more / max(richer.solution.squares, least) * free
    return bool(f.sf(ratio, more, free) < BEYOND_CHANCE)
