"""thermsim: transient thermal trade studies of electronic enclosures.

import thermsim
case = thermsim.load_case("cases/digitiser")
result = thermsim.run(case.with_option("hybrid"))
result.part("fpga").values          # °C over result.part("fpga").time, s
result.sheet("board").temperature   # xarray, dims time, y, x
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from thermsim.case import Case, CaseError, load_case
    from thermsim.store.result import Result, read_result
    from thermsim.studies.compare import compare
    from thermsim.studies.run import run

_HOMES = {
    "Case": "thermsim.case",
    "CaseError": "thermsim.case",
    "load_case": "thermsim.case",
    "Result": "thermsim.store.result",
    "read_result": "thermsim.store.result",
    "compare": "thermsim.studies.compare",
    "run": "thermsim.studies.run",
}

__all__ = ["Case", "CaseError", "Result", "compare", "load_case", "read_result", "run"]


def __getattr__(name: str) -> Any:
    """Import what is asked for only then, so that the command line starts quickly."""
    if name not in _HOMES:
        raise AttributeError(f"module 'thermsim' has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(_HOMES[name]), name)
