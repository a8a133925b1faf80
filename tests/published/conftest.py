"""Makes the shared helpers of this folder importable under pytest's importlib mode."""

import sys
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).parent))


@pytest.fixture(params=["full", "reduced"])
def engine(request) -> str:
    """Either engine: what is published must come out of both."""
    return request.param
