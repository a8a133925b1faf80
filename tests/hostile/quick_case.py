"""A sound case that every study takes a few tenths of a second over: the box that is killed, coarser and with more."""

from __future__ import annotations

import tomllib
from typing import Any

from tests.faults.calls import BOX

MORE = """
[chill]
low = "15 degC"
high = "25 degC"
steps = 2
[decide]
liquid = ["slow pump"]
[must_have.quiet]
of = "noise"
at_most = "35 dB(A)"
[option.pipes]
remove = ["loop.main", "plate.cold", "joint.hot_cold", "pump.p", "hose.out", "hose.back", "radiator.r",
          "airway.outside", "place"]
[option.pipes.add.heat_pipe.main]
between = ["part.hot", "part.warm"]
resistance = "0.4 K/W"
count = 2
diameter = "6 mm"
wall = "0.3 mm"
evaporator = "20 mm"
adiabatic = "40 mm"
condenser = "20 mm"
wick = { kind = "sinter", thickness = "0.6 mm", grain = "0.12 mm", porosity = "45 %" }
"""
QUICKER = {
    "run": {"duration": "2 min", "cell": "20 mm", "frames": 3},
    "place": {"pitch": "20 mm", "leaders": 1, "arrangement": ["series"]},
    "mishap": {"fan_stops": {"at": "1 min", "stops": ["fan.one"]}},
}


def quick_tables() -> dict[str, Any]:
    """The tables of the case, fresh each time."""
    tables = tomllib.loads(BOX.read_text(encoding="utf-8"))
    for name, table in QUICKER.items():
        tables[name] |= table
    more = tomllib.loads(MORE)
    tables["option"] |= more.pop("option")
    return tables | more
