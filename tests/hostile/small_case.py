"""A sound case with nearly every kind of table, of about 850 unknowns, that hostile ones are made of."""

SMALL = """
[case]
title = "A board in a box"
invented = true
note = "all there is"
[room]
temperature = "22 degC"
humidity = "45 %"
noise_floor = "18 dB(A)"
[run]
duration = "10 min"
cell = "10 mm"
frames = 3
[box]
corner = "0, 0 mm"
size = "120 x 90 x 60 mm"
thickness = "1 mm"
material = "aluminium 6061"
outside = { law = "natural", emissivity = 0.9 }
inside = { law = "fixed", h = "6 W/m2K", to = "airway.main" }
[sheet.board]
corner = "10, 10 mm"
size = "100 x 70 mm"
thickness = "1.6 mm"
layers = [{ thickness = "35 um", copper = 0.6 }, { thickness = "35 um", copper = 0.9 }]
patch.pour = { corner = "20, 20 mm", size = "30 x 30 mm", conductivity = "60 W/mK" }
cutout.notch = { corner = "100, 10 mm", size = "10 x 10 mm" }
[part.fpga]
on = "sheet.board"
centre = "50, 40 mm"
size = "30 x 30 mm"
watts = { work = "8 W", idle = "1 W" }
limit = "85 degC"
to_board = "1.5 K/W"
heat_capacity = "25 J/K"
[part.adc]
on = "sheet.board"
centre = "90, 60 mm"
size = "8 x 8 mm"
watts = "0.5 W"
limit = "60 degC"
to_board = "8 K/W"
heat_capacity = "2 J/K"
drift = "3 ppm/K"
reading_tolerance = "5 ppm"
[fan.pair]
curve = ["0 m3/h, 38 Pa", "10 m3/h, 30 Pa", "30 m3/h, 0 Pa"]
noise = "29 dB(A)"
rated_speed = "3000 rpm"
[airway.main]
corner = "10, 10 mm"
size = "100 x 70 mm"
height = "40 mm"
fans = ["fan.pair"]
resistance = "0.012 Pa/(m3/h)2"
[film.top]
on = "sheet.board"
to = "airway.main"
law = "duct"
[film.bottom]
on = "sheet.board"
face = "bottom"
law = "fixed"
h = "2 W/m2K"
to = "airway.main"
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
[hose.tube]
length = "1 m"
bore = "6 mm"
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
path = ["hose.tube", "plate.cold", "radiator.outside"]
[governor.g]
sensor = "part.fpga"
drives = "fan.pair"
law = "hold"
set_point = "60 degC"
gain = "5 %/K"
reset = "60 s"
min_speed = "30 %"
[duty.day]
of = "state"
points = ["0 s, work", "3 min, idle"]
repeat = "5 min"
[duty.swing]
of = "room.temperature"
sine = { mean = "22 degC", amplitude = "2 K", period = "4 min" }
[mishap.dies]
at = "5 min"
stops = "pump.small"
[must_have.quiet]
of = "noise"
at_most = "35 dB(A)"
[probe.spot]
on = "sheet.board"
at = "30, 30 mm"
[uncertain.paste]
of = "joint.pad.resistance"
spread = "20 %"
[option."better paste"]
set = { "joint.pad.resistance" = "0.1 K/W" }
effort = { cost = 10 }
[option.warm]
base = "better paste"
set = { "room.temperature" = "30 degC", "film.*.emissivity" = 0.8 }
mishaps = "dies"
[option.bare]
remove = ["loop.main", "plate.cold", "joint.pad", "pump.small", "hose.tube", "radiator.outside"]
[bench.columns]
"A [°C]" = "part.fpga"
[bench.run.b]
file = "log.csv"
"""
