"""Makes the shared helpers of this folder, and `tests.benchmarks`, importable under pytest's importlib mode."""

import sys
from pathlib import Path

sys.path += [str(Path(__file__).parent), str(Path(__file__).parents[2])]
