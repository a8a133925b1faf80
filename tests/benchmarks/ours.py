"""thermsim's engines on the box, and the factor they stand on."""

from __future__ import annotations

from collections.abc import Callable
from time import process_time
from typing import Any

from tests.benchmarks.box import END, box
from tests.benchmarks.linear import Sampler, error
from tests.benchmarks.reference import system_of
from tests.benchmarks.stepping import CLOSE, Reading, peak_mb
from thermsim.case.case import Case
from thermsim.model.build import build
from thermsim.solve.engine import spare_factor
from thermsim.solve.factor import Factor
from thermsim.solve.reduced.grow import Growth
from thermsim.solve.steady import SteadySolver
from thermsim.solve.transient import Transient

REQUIRES = "thermsim"
SPAN = 20.0  # s, of the factor that is timed


def thermsim_full(case: Case) -> tuple[Reading, Sampler]:
    """The step-by-step engine at its default tolerance."""
    began = process_time()
    model = build(case)
    setup = process_time() - began
    began = process_time()
    history, sampler = Transient.of(model), Sampler(model.start())
    for step in history.steps(END):
        sampler.take(step.first.time, step.last.time, step.at)
    reading = Reading(model.node_count, setup, process_time() - began)
    stages = history.stepper.stages
    reading.more = {"factors": stages.factorisations, "solves": stages.solves}
    return reading, sampler


def thermsim_reduced(case: Case) -> tuple[Reading, Sampler]:
    """The reduced engine at its default tolerance; with a governor the steady state it starts from is counted."""
    began = process_time()
    model = build(case)
    assert model.pattern.indices.size  # made on first use; part of setting up
    setup = process_time() - began
    began = process_time()
    steadies, slow, factors = [], None, 0
    if case.spec.governor:
        solver = SteadySolver(model)
        steadies, slow, factors = [solver.solve(0.0)], spare_factor(solver), solver.factorisations
    reduced = Growth(model, steadies, slow, case.spec.run.tolerance).grow()
    seconds = process_time() - began
    sampler = Sampler(model.start())
    for step in reduced.steps:
        sampler.take(step.first.time, step.last.time, lambda time, step=step: reduced.image.field(step.at(time)))
    reading = Reading(model.node_count, setup, seconds)
    reading.more = {
        "factors": reduced.factorisations + factors, "solves": reduced.solves, "basis": reduced.image.size,
        "indicator": reduced.indicator,
    }  # fmt: skip
    return reading, sampler


def measure_engine(
    engine: Callable[[Case], tuple[Reading, Sampler]], unknowns: int, option: str | None, exact: Callable[[], Any]
) -> Reading:
    """The warm-up by one of the engines; `exact()` gives the reference, or None."""
    reading, sampler = engine(box(unknowns, option))
    reading.peak_mb = peak_mb()
    reference = exact()
    if reference is not None:
        reading.error = error(sampler.fields, reference)
        if reading.error <= CLOSE:
            reading.equal, reading.at = reading.seconds, "its default"
    return reading


def measure_factor(unknowns: int) -> Reading:
    """One factor of K + C/20 s with the package's ordering, and one solve."""
    began = process_time()
    system = system_of(build(box(unknowns)))
    setup = process_time() - began
    matrix = system.shifted(SPAN)
    began = process_time()
    factor = Factor(matrix)
    seconds = process_time() - began
    began = process_time()
    factor.solve(system.load)
    reading = Reading(system.start.size, setup, peak_mb=peak_mb())
    reading.more = {"factor_s": seconds, "solve_s": process_time() - began, "factor_mb": factor.bytes / 1e6}
    return reading
