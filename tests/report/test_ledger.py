"""The heat ledger adds up and speaks plainly."""

from dataclasses import replace

import numpy as np
import pytest

from thermsim.case import Case
from thermsim.report.ledger import OTHER, STORED, heat_ways, ledger_figure, plain_way
from thermsim.store.result import Result, Series

BASE, LIQUID, MISHAP = "base", "liquid", "liquid, pump stops"

BOX = """\
[case]
title = "A box"
[room]
temperature = "20 degC"
[box]
corner = "0, 0 mm"
size = "100 x 80 x 40 mm"
thickness = "2 mm"
material = "aluminium 6061"
outside = { law = "fixed", h = "9 W/m2K" }
[sheet.main_board]
corner = "0, 0 mm"
size = "100 x 80 mm"
thickness = "1.6 mm"
conductivity = "25 W/mK"
heat_density = "2 MJ/m3K"
[film.up]
on = "sheet.main_board"
to = "room"
law = "fixed"
h = "5 W/m2K"
[film.down]
on = "sheet.main_board"
face = "bottom"
to = "room"
law = "fixed"
h = "5 W/m2K"
[edge.guide]
on = "sheet.main_board"
side = "left"
temperature = "30 degC"
[edge.rim]
on = "sheet.main_board"
side = "back"
h = "5 W/m2K"
"""


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("airway.main", "air through airway main"),
        ("film.box_lid_outside", "lid to the room"),
        ("film.box_left_outside", "left side to the room"),
        ("film.box_left_outside radiation", "left side to the room"),
        ("film.up", "main board top to the room"),
        ("film.down", "main board bottom to the room"),
        ("edge.guide", "left edge of main board, held at 30 °C"),
        ("edge.rim", "back edge of main board to the room"),
        ("radiator.outside still", "radiator outside to the room's still air"),
        ("hose.long_one loss", "hose long one to the room"),
        ("something.new", "something new"),
    ],
)
def test_ways_in_words(name: str, words: str) -> None:
    assert plain_way(name, Case.from_text(BOX).spec) == words


@pytest.mark.parametrize("option", [BASE, LIQUID, MISHAP])
def test_bars_add_up_to_the_heat_supplied(results: dict[str, Result], option: str) -> None:
    figure = ledger_figure(results[option])
    widths = [bar.get_width() for bar in figure.axes[0].patches]
    # watts as written in the case: chip 6, three converters 0.5 each, and the pump's 1 while it runs
    expected = 8.5 if option == LIQUID else 7.5
    assert sum(widths) == pytest.approx(expected, abs=1e-9)
    assert f"together {expected:.2f} W of {expected:.2f} W supplied" in figure.axes[0].get_xlabel()


def test_bars_are_the_summarys_watts(results: dict[str, Result]) -> None:
    told = results[LIQUID].summary["ledger"]
    _, ways = heat_ways(results[LIQUID])
    assert ways["air through airway outside"] == pytest.approx(told["leaving_w"]["airway.outside"])
    assert ways["air through airway main"] == pytest.approx(told["leaving_w"]["airway.main"])
    assert ways[STORED] == pytest.approx(told["stored_w"], abs=1e-6)
    assert next(iter(ways)) == "air through airway outside"  # the largest comes first


def _ledger(result: Result, **watts: float) -> Result:
    time = np.zeros(1)
    curves = {name: Series(time, np.array([value]), "W", name) for name, value in watts.items()}
    return replace(result, curves={"ledger": curves})


def test_small_ways_are_drawn_together(results: dict[str, Result]) -> None:
    """By hand: of 100 W, ways of 0.9, 0.8 and 0.4 W are each under one per cent."""
    result = _ledger(results[BASE], supplied=100.0, big=60.0, a=0.9, b=0.8, c=0.4)
    _, ways = heat_ways(result)
    assert ways == pytest.approx({"big": 60.0, OTHER: 2.1, STORED: 37.9})


def test_ways_of_the_same_name_are_added(results: dict[str, Result]) -> None:
    result = replace(results[BASE], case=Case.from_text(BOX))
    _, ways = heat_ways(_ledger(result, **{"supplied": 5.0, "film.up": 3.0, "film.up radiation": 2.0}))
    assert ways == pytest.approx({"main board top to the room": 5.0, STORED: 0.0})


def test_heat_coming_in_is_negative(results: dict[str, Result]) -> None:
    _, ways = heat_ways(_ledger(results[BASE], supplied=10.0, out=15.0, warm_air=-5.0))
    assert ways == pytest.approx({"out": 15.0, "warm air": -5.0, STORED: 0.0})
