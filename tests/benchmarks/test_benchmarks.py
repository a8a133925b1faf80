"""The benchmark's peers solve the same box as thermsim: other codes, other methods, same temperatures."""

import importlib
from itertools import islice

import numpy as np
import pytest

from tests.benchmarks.box import CHIPS, END, LAYERS, box, plan
from tests.benchmarks.linear import TIMES, Sampler, backward_euler, error, fine_fields
from tests.benchmarks.reference import closely_stepped, system_of
from tests.benchmarks.table import text_table
from thermsim.model.build import build
from thermsim.solve.factor import Factor

CLOSE = 0.3  # K, at the end, between codes
LONG_STEP = 30.0  # s; at the end little is left of what it misses on the way
FINE = 60_000  # unknowns at which elements and volumes agree over copper; in bare laminate they still differ by kelvins
OVER_COPPER = ("processor", "amplifier", "memory")


def at_end(peer):
    """All of a peer's unknowns at the end of the warm-up, °C."""
    peer.begin(LONG_STEP)
    for _ in range(round(END / LONG_STEP)):
        peer.advance()
    return peer.field()


def test_reference_and_own_stepper_agree():
    model = build(box(1000))
    assert error(fine_fields(system_of(model)), closely_stepped(model)) < 1e-3


def test_fipy_agrees():
    pytest.importorskip("fipy")
    from tests.benchmarks.peer_fipy import FipyBox

    peer = FipyBox(1000)
    expected = fine_fields(peer.system())[-1]
    found = at_end(peer)
    assert np.abs(found - expected).max() < CLOSE  # cell by cell
    assert expected.max() > 60


@pytest.mark.parametrize("ordered", [False, True])
def test_solve_ivp_agrees(ordered):
    from tests.benchmarks.peer_ivp import PLAIN, counted, integrate

    system = system_of(build(box(1000)))
    with counted(ordered) as counts:
        found = integrate(system, PLAIN)
    assert error(found, fine_fields(system)) < CLOSE
    assert counts.factors > 3
    assert counts.solves > counts.factors


@pytest.mark.slow
@pytest.mark.parametrize(("module", "peer"), [("skfem", "SkfemOrdered"), ("ngsolve", "NgsolveBox")])
def test_elements_agree(module, peer):
    pytest.importorskip(module)
    make = getattr(importlib.import_module(f"tests.benchmarks.peer_{module}"), peer)
    case = box(FINE, make.option)
    model, drawn = build(case), plan(case)
    ours = system_of(model)
    states = backward_euler(ours, LONG_STEP, Factor(ours.shifted(LONG_STEP)).solve)
    expected = next(islice(states, round(END / LONG_STEP) - 1, None))
    found = at_end(make(FINE))
    parts = found[len(LAYERS) * drawn.x.size * drawn.y.size :]
    for name, degc in zip(CHIPS, parts, strict=False):
        if name in OVER_COPPER:
            assert degc == pytest.approx(expected[model.numbers(f"part.{name}")[0]], abs=CLOSE)


def test_sampler_keeps_every_time():
    sampler = Sampler(np.zeros(1))
    for first in np.arange(0, END, 7.5):
        sampler.chord(first, np.array([first]), first + 7.5, np.array([first + 7.5]))
    assert sampler.fields[:, 0] == pytest.approx(TIMES, rel=1e-6)


def test_table_takes_ratios_within_a_size():
    def row(peer, asked, seconds, said=()):
        answer = {"unknowns": asked, "setup": 1.0, "seconds": seconds, "error": 0.5, "equal": 2 * seconds, "at": "x"}
        return {"peer": peer, "asked": asked, "answer": answer | {"said": list(said), "peak_mb": 100.0, "more": {}}}

    rows = [row("thermsim full", 10, 2.0), row("fipy", 10, 50.0, ["a note"]), row("fipy", 20, 50.0)]
    rows.append({"peer": "ngsolve", "asked": 10, "skipped": "ngsolve is not installed"})
    lines = text_table(rows, markdown=True).splitlines()
    assert [cell.strip() for cell in lines[3].split("|")][6:11] == ["25", "100", "x", "25", "100"]
    assert [cell.strip() for cell in lines[4].split("|")][6] == ""  # nothing to compare with at that size
    assert "- [1] a note" in lines
    assert "- skipped 10 ngsolve: ngsolve is not installed" in lines
