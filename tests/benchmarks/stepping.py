"""Peers that step at a constant length with backward Euler: how they are timed, and how far off they are.

Times are of the processor: all run on one thread, so on an idle machine they are those of the clock.
"""

from __future__ import annotations

import resource
from collections.abc import Callable
from dataclasses import dataclass, field
from time import process_time
from typing import Any, Protocol

import numpy as np

from tests.benchmarks.box import END, Floats
from tests.benchmarks.linear import Linear, Sampler, error, fine_fields, stepping_error

PLAIN = 2.0  # s, the step a plain script takes
FINER = (0.5, 0.1)  # s
CLOSE = 0.05  # K, the error at which all are compared
FEWEST = 5  # steps
# COLAMD sets rows of more than 10 √n entries aside. An air segment's row, which touches a whole band of cells, falls
# on either side with size and number of segments: at 58,000 unknowns 24 segments gave 100, 12 gave 40, and no stream 16
# million entries in the factor; at 146,000, 24 gave 113 and 48 gave 435.
ERRATIC = "SciPy's own ordering: its fill jumps with how many cells an air segment touches; no ratio for other boxes"


class Stepping(Protocol):
    """A peer with its matrices made; `option` of the box it solves, `said`: what it leaves out."""

    option: str | None
    said: str

    def begin(self, step: float) -> None:
        """Go back to the start, and make ready for steps of a length (s)."""

    def advance(self) -> None:
        """Take one step."""

    def field(self) -> Floats:
        """All unknowns, numbered as in `system`."""

    def system(self) -> Linear:
        """Its own matrices."""


@dataclass
class Reading:
    """What one measurement gave; None is unknown, `said` tells what is extrapolated or left out.

    `setup`: s until the matrices stand. `seconds`: of the warm-up as a plain script has it, with its `error` (K).
    `equal`: s with an error of at most `CLOSE`, at the step or tolerance `at`. `peak_mb`: of its process.
    """

    unknowns: int
    setup: float
    seconds: float | None = None
    error: float | None = None
    equal: float | None = None
    at: str = ""
    said: list[str] = field(default_factory=list)
    peak_mb: float | None = None
    more: dict[str, Any] = field(default_factory=dict)


def peak_mb() -> float:
    """Largest memory this process has held so far, MB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3


def measure_stepping(make: Callable[[int], Stepping], unknowns: int, most: float, errors: dict[str, float]) -> Reading:
    """Time the warm-up at the plain step (at most so many seconds of it), and reckon it at equal error."""
    began = process_time()
    peer = make(unknowns)
    setup = process_time() - began
    began = process_time()
    peer.begin(PLAIN)
    ready = process_time() - began
    wanted, taken, began = round(END / PLAIN), 0, process_time()
    while taken < wanted and (taken < FEWEST or process_time() - began < most):
        peer.advance()
        taken += 1
    each = (process_time() - began) / taken
    reading = Reading(peer.field().size, setup, ready + each * wanted, said=[peer.said] if peer.said else [])
    if taken < wanted:
        reading.said.append(f"time extrapolated from {taken} of {wanted} steps")
    reading.peak_mb = peak_mb()
    reading.more = {"ready_s": ready, "step_s": each, "steps": taken, "errors_k": errors}
    if errors:
        reading.error = errors[str(PLAIN)]
        needed = step_needed(errors)
        reading.at = f"{needed:.2g} s steps"
        reading.equal = ready + each * END / needed
        reading.said.append(f"errors from the smaller box; equal error extrapolated to {END / needed:.0f} steps")
    return reading


def step_needed(errors: dict[str, float]) -> float:
    """The step (s) that meets `CLOSE`, by first order from the nearest step measured."""
    step, off = min(((float(step), off) for step, off in errors.items()), key=lambda one: abs(np.log(one[1] / CLOSE)))
    return step * CLOSE / off


def stepping_errors(make: Callable[[int], Stepping], unknowns: int) -> dict[str, float]:
    """The error of time integration alone (K): the peer's own at the plain step, its matrices' at finer ones."""
    peer = make(unknowns)
    system = peer.system()
    exact = fine_fields(system)
    peer.begin(PLAIN)
    before, sampler = peer.field().copy(), Sampler(system.start)
    for count in range(1, round(END / PLAIN) + 1):
        peer.advance()
        after = peer.field().copy()
        sampler.chord((count - 1) * PLAIN, before, count * PLAIN, after)
        before = after
    errors = {str(PLAIN): error(sampler.fields, exact)}
    return errors | {str(step): stepping_error(system, step, exact) for step in FINER}


def hottest_at_end(make: Callable[[int], Stepping], unknowns: int) -> float:
    """The hottest unknown after the warm-up at plain steps, °C."""
    peer = make(unknowns)
    peer.begin(PLAIN)
    for _ in range(round(END / PLAIN)):
        peer.advance()
    return float(peer.field().max())
