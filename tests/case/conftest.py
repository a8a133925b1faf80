"""A small sound case that the tests change, one thing at a time."""

import pytest

BASE = """\
[case]
title = "A board in a box"

[room]
temperature = "22 degC"

[sheet.board]
corner = "0, 0 mm"
size = "100 x 80 mm"
thickness = "1.6 mm"
conductivity = "25 W/mK"
heat_density = "2.0 MJ/m3K"

[part.fpga]
on = "sheet.board"
centre = "50, 40 mm"
size = "30 x 30 mm"
watts = "12 W"
to_board = "1.5 K/W"
heat_capacity = "25 J/K"

[fan.pair]
curve = ["0 m3/h, 38 Pa", "10 m3/h, 30 Pa", "30 m3/h, 0 Pa"]

[airway.main]
corner = "0, 0 mm"
size = "100 x 80 mm"
height = "60 mm"
fans = ["fan.pair"]
resistance = "0.012 Pa/(m3/h)2"

[film.top]
on = "sheet.board"
to = "airway.main"
law = "duct"
"""

LOOP = """
[plate.cold]
corner = "30, 20 mm"
size = "40 x 40 mm"
thickness = "8 mm"
material = "aluminium 6061"
channel = { path = ["40, 20 mm", "40, 60 mm"], width = "3 mm", depth = "3 mm" }

[joint.pad]
between = ["part.fpga", "plate.cold"]
resistance = "0.3 K/W"

[pump.small]
curve = ["0 L/min, 40 kPa", "2 L/min, 0 kPa"]

[radiator.outside]
airway = "main"
conductance = "14 W/K"
at_flow = "60 m3/h"
exponent = 0.5
volume = "60 mL"
drop = "1.9 kPa"
drop_at = "0.58 L/min"

[loop.main]
pump = "pump.small"
coolant = "water"
path = ["plate.cold", "radiator.outside"]
"""


@pytest.fixture
def changed():
    """A function: the base text (with the loop if asked), pieces replaced, more text behind it."""

    def change(*pairs: tuple[str, str], more: str = "", loop: bool = False) -> str:
        text = BASE + (LOOP if loop else "")
        for old, new in pairs:
            assert old in text, old
            text = text.replace(old, new, 1)
        return text + more

    return change
