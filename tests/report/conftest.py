"""A small case with and without a loop, run once for all tests of figures and page."""

import sys
from pathlib import Path

import pytest

from thermsim.case import Case
from thermsim.store.result import Result
from thermsim.studies.run import run

sys.path.append(str(Path(__file__).parent))  # for the helpers of this folder, under pytest's importlib mode
from case_with_a_loop import CASE

BASE, LIQUID, MISHAP = "base", "liquid", "liquid, pump stops"


@pytest.fixture(scope="session")
def results(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Result]:
    """Whole results of the base case, the loop, and the loop whose pump stops."""
    folder = tmp_path_factory.mktemp("results")
    case = Case.from_text(CASE)
    return {
        name: run(case.with_option(None if name == BASE else name), folder / str(k))
        for k, name in enumerate((BASE, LIQUID, MISHAP))
    }
