"""Makes `tests.machines` importable under pytest's importlib mode."""

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).parents[2]))
