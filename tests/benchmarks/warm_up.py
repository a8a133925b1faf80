"""Time one warm-up by thermsim and by general-purpose peers, ratios in one run.

`python -m tests.benchmarks.warm_up --sizes 10k,60k`, from the root of the repository.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
from datetime import datetime
from importlib.metadata import PackageNotFoundError, version
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from tests.benchmarks.table import text_table

ROOT = Path(__file__).parents[2]
OUT = ROOT / "outputs" / "benchmarks"
PEERS = {  # and the module each needs
    "thermsim reduced": "thermsim", "thermsim full": "thermsim", "ivp as written": "scipy", "ivp ordered": "scipy",
    "fipy": "fipy", "skfem as written": "skfem", "skfem ordered": "skfem", "ngsolve": "ngsolve",
}  # fmt: skip
PACKAGES = ("thermsim", "numpy", "scipy", "fipy", "scikit-fem", "ngsolve")
SMALL = 10_000  # unknowns of the box on which steps and tolerances for equal error are found
UNTRIED = {
    "ivp as written": 300_000,
    "skfem as written": 300_000,
}  # 3 GB of factor at 250,000 unknowns; more was not tried
ONE_THREAD = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", "MKL_NUM_THREADS": "1"}
SUFFIX = {"k": 1_000, "M": 1_000_000}


def size(text: str) -> int:
    """A number of unknowns such as 60k or 1M."""
    factor = SUFFIX.get(text[-1:], 1)
    return round(float(text.rstrip("kM")) * factor)


def ask(**order: Any) -> dict[str, Any]:
    """Have one order carried out in a process of its own; {"answer": …}, or {"skipped": why}."""
    found = subprocess.run(
        [sys.executable, "-m", "tests.benchmarks.job", json.dumps(order)],
        capture_output=True, text=True, cwd=ROOT, env=os.environ | ONE_THREAD,
    )  # fmt: skip
    if found.returncode:
        last = (found.stderr.strip().splitlines() or ["no message"])[-1]
        return {"skipped": f"failed ({found.returncode}): {last}"}
    answer: dict[str, Any] = json.loads(found.stdout.strip().splitlines()[-1])
    return answer


def why_not(peer: str, unknowns: int, option: str | None) -> str | None:
    """Why a peer is not measured at a size."""
    if find_spec(PEERS[peer]) is None:
        return f"{PEERS[peer]} is not installed"
    if option and not peer.startswith("thermsim"):
        return "is linear only"
    if unknowns > UNTRIED.get(peer, unknowns):
        return f"not tried beyond {UNTRIED[peer]:,} unknowns, for memory"
    return None


class WarmUp:
    """The measurements of one command; `rows` are what was found."""

    def __init__(self, most: float, referred: int, option: str | None) -> None:
        self.most, self.referred, self.option = most, referred, option
        self.rows: list[dict[str, Any]] = []
        self._aids: dict[str, Any] = {}

    def measure(self, peer: str, unknowns: int) -> None:
        """One row."""
        row: dict[str, Any] = {"peer": peer, "asked": unknowns}
        reason = why_not(peer, unknowns, self.option)
        if reason is None:
            with_reference = unknowns <= self.referred
            if with_reference and not self._is_stepping(peer):
                self._aid("reference", unknowns, reference=True, option=self.option)
            row |= ask(
                do="measure", peer=peer, unknowns=unknowns, most=self.most, option=self.option,
                reference=with_reference, **self._aids_for(peer),
            )  # fmt: skip
        else:
            row["skipped"] = reason
        self.rows.append(row)

    def factor(self, unknowns: int) -> None:
        """One factor and one solve, as a row."""
        self.rows.append({"peer": "one factor", "asked": unknowns} | ask(do="factor", unknowns=unknowns))

    def _is_stepping(self, peer: str) -> bool:
        return not peer.startswith(("thermsim", "ivp"))

    def _aids_for(self, peer: str) -> dict[str, Any]:
        """What has to be found on the small box before a peer can be reckoned at equal error."""
        if peer.startswith("ivp"):
            found = self._aid("tolerances", SMALL, reference=True)
            return {"tolerances": found.get("answer", [1e-4, 1e-3])}
        if self._is_stepping(peer):
            alike = "skfem ordered" if peer.startswith("skfem") else peer  # the same matrices
            return {"errors": self._aid("errors", SMALL, peer=alike).get("answer", {})}
        return {}

    def _aid(self, do: str, unknowns: int, **more: Any) -> dict[str, Any]:
        key = json.dumps([do, unknowns, more])
        if key not in self._aids:
            self._aids[key] = ask(do=do, unknowns=unknowns, **more)
        found: dict[str, Any] = self._aids[key]
        return found


def versions() -> dict[str, str]:
    """Of the packages that are there."""
    found = {}
    for name in PACKAGES:
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            continue
    return found


def arguments() -> argparse.Namespace:
    """The command line."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.warm_up", description=__doc__)
    parser.add_argument("--sizes", default="10k,60k", help="numbers of unknowns, such as 10k,60k,250k,1M")
    parser.add_argument("--peers", default=",".join(PEERS), help=f"of: {', '.join(PEERS)}")
    parser.add_argument("--most", type=float, default=600.0, help="seconds of stepping after which to extrapolate")
    parser.add_argument("--reference-up-to", default="250k", help="largest size at which errors are measured")
    parser.add_argument("--governed", action="store_true", help="with a fan that holds a part: thermsim's engines only")
    parser.add_argument("--markdown", action="store_true", help="print the table as Markdown")
    given = parser.parse_args()
    given.peers = [name.strip() for name in given.peers.split(",")]
    unknown = set(given.peers) - set(PEERS)
    if unknown:
        parser.error(f"no such peer: {', '.join(sorted(unknown))}; there are {', '.join(PEERS)}")
    return given


def keep(found: WarmUp, began: datetime) -> Path:
    """Write what has been measured so far."""
    OUT.mkdir(parents=True, exist_ok=True)
    path = OUT / f"warm-up-{began:%Y%m%d-%H%M%S}.json"
    kept = {"began": began.isoformat(), "option": found.option, "versions": versions(), "rows": found.rows}
    path.write_text(json.dumps(kept, indent=1) + "\n", encoding="utf-8")
    return path


def main() -> None:
    """Measure, keep, print."""
    given, began = arguments(), datetime.now()
    found = WarmUp(given.most, size(given.reference_up_to), "governed" if given.governed else None)
    for unknowns in [size(text) for text in given.sizes.split(",")]:
        found.factor(unknowns)
        for peer in given.peers:
            found.measure(peer, unknowns)
            row = found.rows[-1]
            told = f"{row['answer']['seconds']:.3g} s" if "answer" in row else row["skipped"]
            print(f"{unknowns:>9,} {peer}: {told}", file=sys.stderr, flush=True)
            path = keep(found, began)
    print(text_table(found.rows, markdown=given.markdown))
    print(f"kept in {path.relative_to(ROOT)}", file=sys.stderr)


if __name__ == "__main__":
    main()
