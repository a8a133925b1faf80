"""Makes `tests.hostile` importable under pytest's importlib mode, and `python -m` without it."""

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).parents[2]))
