"""A small board with four parts, a cold plate and its loop, for tests of the search. Invented."""

from __future__ import annotations

from typing import Any

from thermsim.case import Case

TEXT = """
[case]
title = "a plate on a small board"
[room]
temperature = "20 degC"
[run]
cell = "5 mm"
[box]
corner = "-30, -30 mm"
size = "180 x 150 x 50 mm"
thickness = "2 mm"
material = "aluminium 6061"
[box.outside]
law = "fixed"
h = "9 W/m2K"
[sheet.board]
corner = "0, 0 mm"
size = "120 x 90 mm"
thickness = "1.6 mm"
conductivity = "20 W/mK"
conductivity_through = "0.35 W/mK"
heat_density = "2e6 J/m3K"
[airway.main]
corner = "-30, -30 mm"
size = "180 x 150 mm"
height = "46 mm"
flow = "10 m3/h"
segments = 6
[box.inside]
to = "airway.main"
law = "fixed"
h = "4 W/m2K"
[film.top]
on = "sheet.board"
to = "airway.main"
law = "fixed"
h = "8 W/m2K"
[film.bottom]
on = "sheet.board"
face = "bottom"
to = "airway.main"
law = "fixed"
h = "5 W/m2K"
[radiation.lid]
between = ["sheet.board", "sheet.lid"]
emissivity = [0.9, 0.8]
[part.hot]
on = "sheet.board"
centre = "35, 45 mm"
size = "20 x 20 mm"
height = "3 mm"
watts = "4 W"
limit = "60 degC"
to_board = "1.5 K/W"
heat_capacity = "10 J/K"
[part.warm]
on = "sheet.board"
centre = "85, 55 mm"
size = "20 x 20 mm"
height = "2.4 mm"
watts = "2.5 W"
limit = "50 degC"
to_board = "2 K/W"
to_top = "0.5 K/W"
heat_capacity = "8 J/K"
[part.small]
on = "sheet.board"
centre = "60, 25 mm"
size = "10 x 10 mm"
height = "2 mm"
watts = "0.4 W"
limit = "45 degC"
to_board = "6 K/W"
heat_capacity = "2 J/K"
[part.cool]
on = "sheet.board"
centre = "100, 20 mm"
size = "15 x 15 mm"
height = "1.8 mm"
watts = "0.4 W"
limit = "42 degC"
to_board = "4 K/W"
heat_capacity = "3 J/K"
[plate.cold]
corner = "20, 30 mm"
size = "50 x 40 mm"
thickness = "6 mm"
material = "aluminium 6061"
[plate.cold.channel]
path = ["20, 35 mm", "65, 35 mm", "65, 45 mm", "25, 45 mm", "25, 55 mm", "65, 55 mm", "65, 65 mm", "20, 65 mm"]
width = "3 mm"
depth = "3 mm"
[joint.hot_cold]
between = ["part.hot", "plate.cold"]
resistance = "0.1 K/W"
[film.plate]
on = "plate.cold"
to = "airway.main"
law = "fixed"
h = "8 W/m2K"
[pump.p]
curve = ["0 L/min, 30 kPa", "0.5 L/min, 24 kPa", "1 L/min, 12 kPa", "1.5 L/min, 0 kPa"]
heat = "2 W"
[hose.out]
length = "1 m"
bore = "4 mm"
fittings = { barb = 2 }
[hose.back]
length = "1 m"
bore = "4 mm"
fittings = { barb = 2 }
[fan.r]
curve = ["0 m3/h, 40 Pa", "40 m3/h, 20 Pa", "80 m3/h, 0 Pa"]
[airway.r]
fans = ["fan.r"]
resistance = "0.01 Pa/(m3/h)2"
[radiator.r]
airway = "airway.r"
conductance = "8 W/K"
at_flow = "50 m3/h"
exponent = 0.5
volume = "50 mL"
drop = "2 kPa"
drop_at = "0.5 L/min"
[loop.main]
pump = "pump.p"
coolant = "propylene glycol"
fraction = "25 %"
path = ["hose.out", "plate.cold", "hose.back", "radiator.r"]
[place]
plate = "plate.cold"
pitch = "10 mm"
leaders = 3
paste = "60 mm2K/W"
[place.pad]
conductivity = "3 W/mK"
contact = "60 mm2K/W"
thickness_min = "0.3 mm"
thickness_max = "1.5 mm"
[place.hose]
outer = "6 mm"
barb_length = "8 mm"
bend_radius = "20 mm"
"""


def plate_box(changes: dict[str, Any] | None = None, more: str = "") -> Case:
    """The box, with changes and further tables as text."""
    return Case.from_text(TEXT + more, name="plates.toml", changes=changes or {})
