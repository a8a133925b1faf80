"""Small invented boxes that show a lesson of the trade, or refute it, by one resistance."""

from thermsim.case import Case

BOX = """
[case]
title = "two parts in a duct"
invented = true
[room]
temperature = "20 degC"
noise_floor = "10 dB(A)"
[run]
duration = "30 min"
frames = 3
[part.chip]
watts = "20 W"
limit = "90 degC"
heat_capacity = "10 J/K"
[part.memory]
watts = "5 W"
limit = "{memory_limit} degC"
heat_capacity = "10 J/K"
centre = "150, 50 mm"
size = "50 x 50 mm"
[joint.paste]
between = ["part.chip", "sink.chip"]
resistance = "{paste} K/W"
[sink.chip]
on = "part.chip"
airway = "airway.main"
resistance = "{sink} K/W"
at_flow = "20 m3/h"
exponent = 0.6
still = "10 K/W"
heat_capacity = "20 J/K"
[film.memory]
on = "part.memory"
to = "airway.main"
law = "scaled"
h = "60 W/m2K"
at_flow = "20 m3/h"
exponent = 0.6
still = "15 W/m2K"
[fan.main]
curve = ["0 m3/h, 30 Pa", "40 m3/h, 0 Pa"]
noise = "35 dB(A)"
speed = "60 %"
[airway.main]
corner = "0, 0 mm"
size = "200 x 100 mm"
height = "40 mm"
fans = ["fan.main"]
resistance = "0.05 Pa/(m3/h)2"
{governor}
[option."better paste"]
set = {{ "joint.paste.resistance" = "0.05 K/W" }}
[option."better paste and fans"]
base = "better paste"
set = {{ "fan.main.curve" = ["0 m3/h, 120 Pa", "80 m3/h, 0 Pa"] }}
[option."bigger sink"]
set = {{ "sink.chip.resistance" = "{bigger} K/W" }}
[option.liquid]
remove = ["sink.chip", "joint.paste"{no_governor}]
set = {{ "fan.main.speed" = "{fan_by_liquid} %" }}
[option.liquid.add.block.chip]
resistance = "{block} K/W"
volume = "10 mL"
drop = "2 kPa"
drop_at = "1 L/min"
[option.liquid.add.joint.chip]
between = ["part.chip", "block.chip"]
resistance = "0.1 K/W"
[option.liquid.add.pump.p]
curve = ["0 L/min, 20 kPa", "2 L/min, 0 kPa"]
[option.liquid.add.airway.outside]
flow = "40 m3/h"
[option.liquid.add.radiator.r]
airway = "airway.outside"
conductance = "10 W/K"
at_flow = "40 m3/h"
exponent = 0.5
volume = "50 mL"
drop = "2 kPa"
drop_at = "1 L/min"
[option.liquid.add.loop.m]
pump = "pump.p"
coolant = "water"
path = ["block.chip", "radiator.r"]
{more}
"""
GOVERNOR = """
[governor.chip]
sensor = "part.chip"
drives = ["fan.main"]
law = "hold"
set_point = "70 degC"
gain = "4 %/K"
reset = "60 s"
min_speed = "20 %"
"""


def trade_box(*, governed: bool = False, more: str = "", **values: float) -> Case:
    """The box; `values`: paste, sink, bigger, block (K/W), memory_limit (°C), fan_by_liquid (%)."""
    told = {"paste": 0.3, "sink": 1.5, "bigger": 1.1, "block": 0.3, "memory_limit": 90, "fan_by_liquid": 30} | values
    governor, gone = (GOVERNOR, ', "governor.chip"') if governed else ("", "")
    return Case.from_text(BOX.format(governor=governor, no_governor=gone, more=more, **told))
