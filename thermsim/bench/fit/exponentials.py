"""Sums of an end value and decaying exponentials: the best time constants for a record, and one fit of all."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from thermsim.bench.fit.least_squares import Solution, least_squares
from thermsim.model.arrays import Floats

TRIED = 40  # time constants tried before the best are refined
QUICKEST = 2.0  # readings, the shortest time constant tried
SLOWEST = 30.0  # records, the longest tried
FARTHEST = 1e3  # records or parts of a reading, how far refined ones may go
MOST = (10, 60, 60)  # evaluations of a fit with none, one and two exponentials
RIDGE = 1e-13  # of the trace: keeps like columns apart
APART = 2.0  # at least, the ratio of two time constants


@dataclass(frozen=True)
class Exponentials:
    """y = end + Σ amplitude·exp(−t/τ), fitted by least squares; with `starts_at` the amplitudes make up the start.

    Coefficients in this order: end, amplitudes (the first left out where the start is given), logarithms of τ.
    """

    time: Floats
    values: Floats
    starts_at: float | None
    solution: Solution
    count: int  # of exponentials

    @property
    def end(self) -> float:
        """The value it tends to."""
        return float(self.solution.values[0])

    @property
    def time_constants(self) -> Floats:
        """τ, the slowest last, s; none where the record is flat."""
        found: Floats = np.exp(self.solution.values[self.solution.values.size - self.count :])
        return found

    @cached_property
    def coefficients(self) -> int:
        """How many were fitted."""
        return self.solution.values.size

    def at(self, time: Floats) -> Floats:
        """Fitted values at times."""
        return _curve(self.solution.values, time, self.count, self.starts_at)

    def slopes(self, time: Floats) -> Floats:
        """How they change with the coefficients, shape (times, coefficients)."""
        return _slopes(self.solution.values, time, self.count, self.starts_at)


def fit_exponentials(time: Floats, values: Floats, count: int, starts_at: float | None = None) -> Exponentials:
    """The best sum of `count` exponentials (0: a constant) for readings at rising times from 0, s."""
    span, step = float(time[-1] - time[0]), float(np.median(np.diff(time)))
    taus = np.geomspace(QUICKEST * step, SLOWEST * span, TRIED)
    chosen = _best(time, values, taus, count, starts_at)
    linear = _columns(time, chosen, starts_at)
    known = 0.0 if starts_at is None else starts_at * _first(time, chosen)
    amounts = np.linalg.lstsq(linear, values - known, rcond=None)[0]
    reach = np.log([step / FARTHEST, span * FARTHEST])
    free = amounts.size
    solution = least_squares(
        lambda x: _curve(x, time, count, starts_at) - values,
        np.r_[amounts, np.log(chosen)],
        np.r_[np.full(free, -np.inf), np.full(count, reach[0])],
        np.r_[np.full(free, np.inf), np.full(count, reach[1])],
        jacobian=lambda x: _slopes(x, time, count, starts_at),
        within=1e-10, most=MOST[count],
    )  # fmt: skip
    return Exponentials(time, values, starts_at, _in_order(solution, count, starts_at), count)


def _best(time: Floats, values: Floats, taus: Floats, count: int, starts_at: float | None) -> Floats:
    """Of the time constants tried those that leave least, the rest of the coefficients being linear."""
    if count == 0:
        return np.zeros(0)
    ways: list[tuple[int, ...]] = [(k,) for k in range(taus.size)]
    if count == 2:
        ways = [(j, k) for k in range(taus.size) for j in range(k) if taus[k] >= APART * taus[j]]
    decays = np.exp(-time[:, None] / taus)
    every = np.concatenate((np.ones((time.size, 1)), decays), axis=1)
    gram, right = every.T @ every, every.T @ values
    turn = np.zeros((len(ways), count + (starts_at is None), every.shape[1]))  # the columns of each way
    rows, places = np.arange(len(ways)), np.array(ways).T + 1
    turn[:, 0, 0] = 1.0
    if starts_at is None:
        for k, at in enumerate(places):
            turn[rows, k + 1, at] = 1.0
    else:  # start·e₁ + end·(1 − e₁) + amplitude·(e₂ − e₁)
        turn[rows, :, places[0]] = -1.0
        for k, at in enumerate(places[1:]):
            turn[rows, k + 1, at] = 1.0
    wanted = np.broadcast_to(right, (len(ways), right.size))
    if starts_at is not None:
        wanted = wanted - starts_at * gram[places[0]]
    g, r = turn @ gram @ turn.transpose(0, 2, 1), np.einsum("wij,wj->wi", turn, wanted)
    ridge = RIDGE * np.trace(g, axis1=1, axis2=2)[:, None, None] * np.eye(g.shape[1])
    amounts = np.linalg.solve(g + ridge, r[:, :, None])[:, :, 0]
    explained = np.einsum("wi,wi->w", amounts, 2 * r - np.einsum("wij,wj->wi", g, amounts))
    best: Floats = taus[list(ways[int(np.argmax(explained))])]
    return best


def _first(time: Floats, taus: Floats) -> Floats:
    found: Floats = np.exp(-time / taus[0]) if taus.size else np.zeros(time.size)
    return found


def _columns(time: Floats, taus: Floats, starts_at: float | None) -> Floats:
    """What multiplies the end and the amplitudes, shape (times, coefficients that are linear)."""
    decays = np.exp(-time[:, None] / taus)
    if starts_at is None or not taus.size:
        return np.concatenate((np.ones((time.size, 1)), decays), axis=1)
    return np.concatenate((1.0 - decays[:, :1], decays[:, 1:] - decays[:, :1]), axis=1)


def _curve(x: Floats, time: Floats, count: int, starts_at: float | None) -> Floats:
    taus = np.exp(x[x.size - count :])
    known = 0.0 if starts_at is None else starts_at * _first(time, taus)
    found: Floats = known + _columns(time, taus, starts_at) @ x[: x.size - count]
    return found


def _slopes(x: Floats, time: Floats, count: int, starts_at: float | None) -> Floats:
    taus, linear = np.exp(x[x.size - count :]), x[: x.size - count]
    columns = _columns(time, taus, starts_at)
    if not count:
        return columns
    by_tau = np.exp(-time[:, None] / taus) * time[:, None] / taus
    amplitudes = linear[1:] if starts_at is None else np.r_[starts_at - linear[0] - linear[1:].sum(), linear[1:]]
    return np.concatenate((columns, by_tau * amplitudes), axis=1)


def _in_order(solution: Solution, count: int, starts_at: float | None) -> Solution:
    """The slowest exponential last."""
    if count < 2 or solution.values[-1] >= solution.values[-2]:
        return solution
    if starts_at is not None:  # the first amplitude is what the others leave of the start
        return solution
    order = [0, 2, 1, 4, 3]
    return Solution(
        solution.values[order], solution.residuals, solution.jacobian[:, order], solution.evaluations,
        solution.converged, tuple(solution.at_low[k] for k in order), tuple(solution.at_high[k] for k in order),
    )  # fmt: skip
