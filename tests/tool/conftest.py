"""A small quick case for tests of the tool's own behaviour; no physics is judged with it."""

import sys
from pathlib import Path

import pytest

from thermsim.case import Case

sys.path.append(str(Path(__file__).parent))  # for the helpers of this folder, under pytest's importlib mode

SMALL = """
[case]
title = "bench box"
invented = true

[room]
temperature = "20 degC"
humidity = "40 %"
noise_floor = "12 dB(A)"

[run]
duration = "20 min"
cell = "10 mm"
frames = 11

[sheet.board]
corner = "0, 0 mm"
size = "120 x 80 mm"
thickness = "1.6 mm"
conductivity = "20 W/mK"
conductivity_through = "0.35 W/mK"
heat_capacity = "12 J/K"

[part.chip]
on = "sheet.board"
centre = "60, 40 mm"
size = "20 x 20 mm"
watts = "2 W"
limit = "80 degC"
to_board = "1 K/W"
heat_capacity = "4 J/K"
drift = "5 ppm/K"
reading_tolerance = "10 ppm"

[airway.main]
corner = "0, 0 mm"
size = "120 x 80 mm"
height = "20 mm"
fans = ["fan.one"]
resistance = "0.05 Pa/(m3/h)2"
draught = "0.5 m3/h"
segments = 8

[fan.one]
curve = ["0 m3/h, 20 Pa", "10 m3/h, 10 Pa", "20 m3/h, 0 Pa"]
noise = "25 dB(A)"

[film.top]
on = "sheet.board"
to = "airway.main"
law = "scaled"
h = "20 W/m2K"
at_flow = "12 m3/h"
exponent = 0.6
still = "4 W/m2K"

[governor.chip]
sensor = "part.chip"
drives = ["fan.one"]
law = "hold"
set_point = "50 degC"
gain = "4 %/K"
reset = "150 s"
min_speed = "20 %"

[probe.corner]
on = "sheet.board"
at = "5, 5 mm"

[mishap.fan_stops]
at = "15 min"
stops = ["fan.one"]

[must_have.quiet]
of = "noise"
at_most = "24 dB(A)"

[option."full speed"]
remove = ["governor.chip"]

[option."fan stops"]
mishaps = ["fan_stops"]
set = { "run.duration" = "30 min" }
"""


@pytest.fixture
def small() -> Case:
    """The small case, its base."""
    return Case.from_text(SMALL)


@pytest.fixture
def small_file(tmp_path):
    """The small case as a file."""
    path = tmp_path / "box.toml"
    path.write_text(SMALL, encoding="utf-8")
    return path
