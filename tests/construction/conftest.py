"""Makes `tests.construction`, and by it its helpers, importable under pytest's importlib mode."""

import sys
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).parents[2]))
import tests.construction  # noqa: F401


@pytest.fixture(params=["full", "reduced"])
def engine(request) -> str:
    """Either engine."""
    return request.param
