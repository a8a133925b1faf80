"""One measurement in a process of its own, so that its memory is its own: an order in JSON in, a reading out."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from dataclasses import asdict
from typing import Any

Order = dict[str, Any]


def stepping_peer(name: str) -> Any:
    """The class of a peer that steps at a constant length."""
    if name == "fipy":
        from tests.benchmarks.peer_fipy import FipyBox

        return FipyBox
    if name == "ngsolve":
        from tests.benchmarks.peer_ngsolve import NgsolveBox

        return NgsolveBox
    from tests.benchmarks.peer_skfem import SkfemBox, SkfemOrdered

    return SkfemOrdered if name == "skfem ordered" else SkfemBox


def reference_of(order: Order) -> Any:
    """The reference an order may compare with, None where it is told not to."""
    from tests.benchmarks.box import box
    from tests.benchmarks.reference import reference

    return reference(box(order["unknowns"], order.get("option"))) if order["reference"] else None


def measure(order: Order) -> dict[str, Any]:
    """One peer or engine at one size."""
    name, unknowns = order["peer"], order["unknowns"]

    def exact() -> Any:
        return reference_of(order)

    if name.startswith("thermsim"):
        from tests.benchmarks import ours

        engine = ours.thermsim_full if name == "thermsim full" else ours.thermsim_reduced
        return asdict(ours.measure_engine(engine, unknowns, order.get("option"), exact))
    if name.startswith("ivp"):
        from tests.benchmarks.peer_ivp import measure_ivp

        wanted = order["tolerances"][0], order["tolerances"][1]
        return asdict(measure_ivp(unknowns, name == "ivp ordered", order["most"], wanted, exact))
    from tests.benchmarks.stepping import measure_stepping

    return asdict(measure_stepping(stepping_peer(name), unknowns, order["most"], order["errors"]))


def errors(order: Order) -> dict[str, float]:
    """How far a stepping peer is off at several steps, K."""
    from tests.benchmarks.stepping import stepping_errors

    return stepping_errors(stepping_peer(order["peer"]), order["unknowns"])


def tolerances(order: Order) -> tuple[float, float]:
    """What `solve_ivp` needs to come close enough."""
    from tests.benchmarks.peer_ivp import tolerances_needed

    return tolerances_needed(order["unknowns"], reference_of(order))


def factor(order: Order) -> dict[str, Any]:
    """One factor and one solve."""
    from tests.benchmarks.ours import measure_factor

    return asdict(measure_factor(order["unknowns"]))


def make_reference(order: Order) -> bool:
    """Put the reference on disk."""
    return reference_of(order) is not None


DO: dict[str, Callable[[Order], Any]] = {
    "measure": measure, "errors": errors, "tolerances": tolerances, "factor": factor, "reference": make_reference,
}  # fmt: skip


def main() -> None:
    """Carry out the order on the command line; the answer is the last line printed."""
    order = json.loads(sys.argv[1])
    try:
        answer = {"answer": DO[order["do"]](order)}
    except NotImplementedError as missing:
        answer = {"skipped": str(missing)}
    print(json.dumps(answer))


if __name__ == "__main__":
    main()
