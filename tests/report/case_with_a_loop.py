"""The text of a small case with and without a loop."""

CASE = """\
[case]
title = "A board in a box"
invented = true

[room]
temperature = "22 degC"
noise_floor = "18 dB(A)"

[run]
duration = "20 min"
cell = "5 mm"
frames = 5

[sheet.board]
corner = "0, 0 mm"
size = "160 x 90 mm"
thickness = "1.6 mm"
conductivity = "25 W/mK"
heat_capacity = "40 J/K"

[sheet.board.cutout.notch]
corner = "140, 70 mm"
size = "20 x 20 mm"

[part.chip_one]
on = "sheet.board"
centre = "40, 45 mm"
size = "30 x 20 mm"
watts = "6 W"
limit = "85 degC"
to_board = "1.5 K/W"
heat_capacity = "10 J/K"
drift = "3 ppm/K"
reading_tolerance = "5 ppm"

[part.adc1]
on = "sheet.board"
centre = "90, 45 mm"
size = "6 x 6 mm"
watts = "0.5 W"
limit = "60 degC"
to_board = "8 K/W"
heat_capacity = "2 J/K"

[part.adc2]
on = "sheet.board"
centre = "97, 45 mm"
size = "6 x 6 mm"
watts = "0.5 W"
limit = "60 degC"
to_board = "8 K/W"
heat_capacity = "2 J/K"

[part.adc3]
on = "sheet.board"
centre = "104, 45 mm"
size = "6 x 6 mm"
watts = "0.5 W"
to_board = "8 K/W"
heat_capacity = "2 J/K"

[fan.pair]
curve = ["0 m3/h, 38 Pa", "10 m3/h, 30 Pa", "20 m3/h, 18 Pa", "30 m3/h, 0 Pa"]
noise = "29 dB(A)"

[airway.main]
corner = "0, 0 mm"
size = "160 x 90 mm"
height = "40 mm"
fans = ["fan.pair"]
resistance = "0.02 Pa/(m3/h)2"

[film.board_top]
on = "sheet.board"
to = "airway.main"
law = "scaled"
h = "20 W/m2K"
at_flow = "20 m3/h"
exponent = 0.6
still = "4 W/m2K"

[film.board_bottom]
on = "sheet.board"
face = "bottom"
to = "room"
law = "fixed"
h = "1 W/m2K"

[must_have.quiet]
of = "noise"
at_most = "25 dB(A)"

[option.liquid]
set = { "fan.pair.speed" = "40 %" }

[option.liquid.add.plate.main]
corner = "20, 30 mm"
size = "60 x 40 mm"
thickness = "6 mm"
material = "aluminium 6061"
channel = { path = ["25, 35 mm", "75, 35 mm", "75, 60 mm"], width = "3 mm", depth = "3 mm" }

[option.liquid.add.joint.pad]
between = ["part.chip_one", "plate.main"]
resistance = "0.5 K/W"

[option.liquid.add.pump.small]
heard = false
curve = ["0 L/min, 40 kPa", "2 L/min, 0 kPa"]
heat = "1 W"

[option.liquid.add.hose.both]
length = "1 m"
bore = "4 mm"

[option.liquid.add.airway.outside]
flow = "20 m3/h"

[option.liquid.add.radiator.outside]
airway = "airway.outside"
conductance = "8 W/K"
at_flow = "20 m3/h"
exponent = 0.5
volume = "20 mL"
drop = "2 kPa"
drop_at = "1 L/min"

[option.liquid.add.loop.main]
pump = "pump.small"
coolant = "water"
path = ["hose.both", "plate.main", "radiator.outside"]

[option."liquid, pump stops"]
base = "liquid"
set = { "part.chip_one.limit" = "32 degC" }
mishaps = ["pump_stops"]

[option."liquid, pump stops".add.mishap.pump_stops]
at = "10 min"
stops = ["pump.small"]
"""
