"""A box that is a loop and little else: one hot part on a block, hoses, radiator, tank. Invented."""

from __future__ import annotations

from typing import Any

from thermsim.case import Case

TEXT = """
[case]
title = "one part on a loop"
[room]
temperature = "15 degC"
[run]
duration = "1 min"
[part.chip]
watts = "1 kW"
limit = "80 degC"
heat_capacity = "100 J/K"
[joint.paste]
between = ["part.chip", "block.cold"]
resistance = "0.01 K/W"
[block.cold]
resistance = "0.01 K/W"
volume = "20 mL"
drop = "2 kPa"
drop_at = "1 L/min"
drop_exponent = 2
[hose.out]
length = "3 m"
bore = "6 mm"
[hose.back]
length = "1 m"
bore = "6 mm"
[reservoir.tank]
volume = "100 mL"
[airway.outside]
flow = "2000 m3/h"
[radiator.r]
airway = "airway.outside"
conductance = "500 W/K"
at_flow = "2000 m3/h"
exponent = 0.5
volume = "50 mL"
drop = "1 kPa"
drop_at = "1 L/min"
[pump.p]
curve = ["0 L/min, 40 kPa", "3 L/min, 0 kPa"]
heat = "2 W"
[loop.main]
pump = "pump.p"
coolant = "water"
path = ["hose.out", "block.cold", "hose.back", "radiator.r", "reservoir.tank"]
flow = "1 L/min"
"""


def one_loop(more: str = "", **changes: Any) -> Case:
    """The case with more tables, and changes by address, dots written as double underscores."""
    return Case.from_text(TEXT + more).with_changes({key.replace("__", "."): value for key, value in changes.items()})
