"""Where the reduced engine does not get there the full one makes the history, and the summary says so."""

import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from courses import started
from small_box import small_box

from thermsim.cli import cli
from thermsim.physics.ranges import collect_ranges
from thermsim.solve.engine import course
from thermsim.solve.factor import NoPath, SolveFailed
from thermsim.solve.reduced import grow
from thermsim.solve.reduced.image import Image
from thermsim.solve.reduced.poles import Poles
from thermsim.studies import compare as studies
from thermsim.studies.compare import compare, is_finished
from thermsim.studies.run import run
from thermsim.studies.where import Where

DIGITISER = Path(__file__).parents[2] / "cases" / "digitiser"


@pytest.fixture(scope="module")
def by_full(tmp_path_factory):
    return run(small_box(), tmp_path_factory.mktemp("full"), engine="full")


def raising(error):
    def raises(*args, **kwargs):
        raise error

    return raises


def too_few_vectors(patch):
    patch.setattr(grow, "MOST_VECTORS", 1)
    patch.setattr(grow, "CHAIN", 2)


def too_few_rounds(patch):
    patch.setattr(grow, "MOST_ROUNDS", 1)


def too_many_flows(patch):
    patch.setattr("thermsim.solve.reduced.poles.MOST", 0)


FORCED = {
    "vectors": (too_few_vectors, "the indicated error was still"),
    "rounds": (too_few_rounds, "the indicated error was still"),
    "flows": (too_many_flows, "the flows change too often"),
    # a state far off, on the way: steps too short, a division by nothing, a root of what is below zero
    "steps": (lambda patch: patch.setattr(Image, "balance", raising(SolveFailed("too short"))), "too short"),
    "division": (lambda patch: patch.setattr(Image, "balance", raising(ZeroDivisionError("by zero"))), "by zero"),
    "range": (lambda patch: patch.setattr(Image, "balance", raising(ValueError("not in range"))), "not in range"),
    "complex": (lambda patch: patch.setattr(Image, "balance", lambda *_: float(1j)), ""),
    # a chain from nothing: its factor answers with no number
    "factor": (lambda patch: patch.setattr(Poles, "solve", raising(NoPath())), ""),
}


@pytest.mark.parametrize("way", FORCED)
def test_full_engine_takes_over(way, by_full, monkeypatch, tmp_path):
    force, reason = FORCED[way]
    force(monkeypatch)
    result = run(small_box(), tmp_path)
    assert result.complete
    solution = result.summary["solution"]
    assert solution["engine"] == "full"
    assert solution["fell_back"]
    assert reason in solution["fell_back"]
    assert "indicator_k" not in solution
    # to the last bit what was asked of the full engine
    assert same_but_for_timing(result, by_full)


def same_but_for_timing(one, other) -> bool:
    curves = all(
        np.array_equal(series.values, other.curves[group][name].values)
        for group, found in one.curves.items()
        for name, series in found.items()
    )
    fields = all(
        np.array_equal(field.temperature, other.fields[address].temperature, equal_nan=True)
        for address, field in one.fields.items()
    )
    facts = [{key: told for key, told in r.summary.items() if key != "solution"} for r in (one, other)]
    return curves and fields and facts[0] == facts[1]


def test_the_box_needs_no_fall_back(tmp_path):
    solution = run(small_box(), tmp_path).summary["solution"]
    assert solution["engine"] == "reduced"
    assert "fell_back" not in solution
    assert solution["basis_size"] > 5


def test_the_full_engine_when_asked_for(by_full, monkeypatch):
    solution = by_full.summary["solution"]
    assert solution["engine"] == "full"
    assert "fell_back" not in solution
    # nothing of the other engine is even begun
    monkeypatch.setattr(grow.Growth, "__init__", raising(AssertionError("begun")))
    with collect_ranges():
        taken = course(started(small_box()).start, "full")
    assert taken.engine == "full"
    assert taken.fell_back is None


@pytest.mark.parametrize("engine", ["reduced", "full"])
def test_the_command_hands_on_the_engine(engine, tmp_path):
    quick = ["--set", "run.cell=20 mm", "--set", "run.duration=60 s", "--no-figures", "--json"]
    command = ["run", str(DIGITISER), "-p", "better paste", "-o", str(tmp_path), *quick, "--engine", engine]
    told = CliRunner().invoke(cli, command)
    assert told.exit_code in (0, 1), told.output  # 1: must-haves not met
    assert json.loads(told.stdout)["solution"]["engine"] == engine


@pytest.fixture
def runs(monkeypatch):
    """What is run, in this process."""
    ran = []

    def running(case, *args, **kwargs):
        ran.append((case.option, kwargs["engine"]))
        return run(case, *args, **kwargs)

    monkeypatch.setattr(studies, "run", running)
    return ran


def test_results_of_the_other_engine_are_not_taken(runs, tmp_path):
    both = ["base", "more heat"]
    for engine in ("reduced", "full"):
        compare(small_box(), tmp_path, both, Where(processes=1), engine=engine)
        assert sorted(runs, key=str) == [("more heat", engine), (None, engine)], engine
        runs.clear()
        found = compare(small_box(), tmp_path, both, Where(processes=1), engine=engine)  # what is there is taken
        assert runs == []
        assert [found[name].summary["solution"]["engine"] for name in both] == [engine, engine]
        assert is_finished(small_box(), tmp_path / "base", engine)
        assert not is_finished(small_box(), tmp_path / "base", "full" if engine == "reduced" else "reduced")


def test_a_fallen_back_result_is_taken_for_the_engine_asked_for(runs, monkeypatch, tmp_path):
    too_few_rounds(monkeypatch)
    found = compare(small_box(), tmp_path, ["base"])
    assert found["base"].summary["solution"]["engine"] == "full"
    runs.clear()
    compare(small_box(), tmp_path, ["base"])
    assert runs == []
