"""The laws on many random boxes, and the reduced engine against the full one: `python -m tests.construction.campaign`.

Prints every seed that breaks a law and ends with status 1 if any does. `--laws` names some; `safe` is the reduced
engine's stated error, whose test takes one box of three.
"""

import argparse
import sys
import time
import traceback
from collections.abc import Callable

import tests.construction  # noqa: F401  (makes the helpers importable)

from laws import LAWS, LAWS_OF_ENGINES, Unfit  # isort: skip
from test_reduced_is_safe import assert_safe  # isort: skip


def all_laws() -> dict[str, Callable[[int], None]]:
    """Every law by name, those of histories once for each engine."""
    found = dict(LAWS)
    for name, law in LAWS_OF_ENGINES.items():
        for engine in ("full", "reduced"):
            found[f"{name}.{engine}"] = lambda seed, law=law, engine=engine: law(seed, engine)
    return found | {"safe": lambda seed: assert_safe([seed])}


def tried(law: Callable[[int], None], seed: int) -> str | None:
    """What is wrong with a seed's box, if anything; an empty text if it has not what the law is about."""
    try:
        law(seed)
    except Unfit:
        return ""
    except AssertionError as error:
        return str(error) or "failed"
    except Exception:
        return traceback.format_exc()
    return None


def main() -> int:
    """Go through the seeds; the number of failures decides the exit status."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=500)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--laws", nargs="*", default=list(all_laws()))
    asked = parser.parse_args()
    failed = 0
    for name in asked.laws:
        law, fit, begun = all_laws()[name], 0, time.process_time()
        for seed in range(asked.first, asked.first + asked.count):
            wrong = tried(law, seed)
            fit += wrong != ""
            if wrong:
                failed += 1
                print(f"{name} {seed}: {wrong}", flush=True)
        print(f"{name}: {fit} boxes of {asked.count}, {time.process_time() - begun:.0f} s", flush=True)
    print(f"{failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
