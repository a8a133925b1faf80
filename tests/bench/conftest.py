"""Makes the shared helpers of this folder importable under pytest's importlib mode."""

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).parent))
