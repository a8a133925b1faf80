"""Laws and exact solutions that must hold by construction. Makes the helpers of neighbouring folders importable."""

import sys
from pathlib import Path

HERE = Path(__file__).parent
for folder in (HERE.parents[1], HERE, HERE.parent / "published", HERE.parent / "engine"):
    if str(folder) not in sys.path:
        sys.path.append(str(folder))
