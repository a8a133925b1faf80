"""Weather files: a published typical year, plain columns, and what is wrong with others."""

from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest

from thermsim.case import CaseError
from thermsim.studies.chill.weather import read_weather


def typical_year() -> Path:
    """Greensboro's typical year as the PyPI package pvlib ships it: 8760 hourly rows."""
    found = find_spec("pvlib")
    assert found is not None
    assert found.submodule_search_locations
    return Path(found.submodule_search_locations[0], "data", "723170TYA.CSV")


def test_hours_of_a_typical_year():
    weather = read_weather(typical_year())
    facts = weather.facts()
    assert (facts["hours"], facts["missing_hours"], facts["is_a_year"]) == (8760, 0, True)
    # rows of the file whose own dew point column is above 15 and 20 °C, counted apart from this program
    assert weather.hours_below(15.0) == 3012
    assert weather.hours_below(20.0) == weather.hours_below(22.0, 2.0) == 976


def test_humidity_gives_the_dew_points_that_the_file_states(tmp_path):
    path = tmp_path / "humidity.csv"
    path.write_text(typical_year().read_text(encoding="utf-8").replace("Dew-point (C)", "left out"), encoding="utf-8")
    own, ours = read_weather(typical_year()).dew_points_degc, read_weather(path).dew_points_degc
    off = (ours - own)[own > 0]  # below, the file tells dew over water, ASHRAE's formula frost over ice
    assert abs(off.mean()) < 0.03
    assert np.sqrt((off**2).mean()) < 0.2  # a few rows of the file are not of one piece


@pytest.mark.parametrize(
    "text",
    [
        "temperature_degc,humidity_percent\n25,50\n25,80\n20,60\n",
        "note of the station\nTime;Dry bulb [°C];Relative humidity (%)\n1;25;50\n2;25;80\n3;20;60\n",
        "temp (F)\tRH [fraction]\n77\t0.5\n77\t0.8\n68\t0.6\n",
        "hour,dry_bulb_degc,dew_point_k\n1,25,287.014\n2,25,294.459\n3,20,285.157\n",
        "hour;Temperature (°C);RH (%)\n1;25,0;50,0\n2;25,0;80,0\n3;20,0;60,0\n",
        "soil temperature (C),dew source,Dry-bulb (C),RHum (%)\n9,A,25,50\n9,A,25,80\n9,A,20,60\n",
    ],
)
def test_headers(text, tmp_path):
    path = tmp_path / "hours.csv"
    path.write_text(text, encoding="utf-8")
    # dew points by ASHRAE Fundamentals: 25 °C and 50 %, 25 and 80, 20 and 60
    assert read_weather(path).dew_points_degc == pytest.approx([13.864, 21.309, 12.007], abs=0.002)


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "latin-1"])
def test_encodings_and_line_ends(encoding, tmp_path):
    path = tmp_path / "hours.csv"
    path.write_bytes("Zeit;Temperature [°C];RH [%]\r\n1;25;50\r\n".encode(encoding))
    assert read_weather(path).dew_points_degc == pytest.approx([13.864], abs=0.002)


def test_gaps_are_left_out_and_counted(tmp_path):
    path = tmp_path / "hours.csv"
    path.write_text("temperature_degc,humidity_percent\n" + "25,50\n" * 30 + "-9999,50\n,50\n25,\n", encoding="utf-8")
    assert read_weather(path).facts()["missing_hours"] == 3


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (None, "no such file"),
        ("temperature,humidity\n25,50\n", "no header that names a dew point, or dry bulb and relative humidity, with"),
        ("temperature_degc,humidity_percent\n", "no rows below the header"),
        ("temperature_degc,humidity_percent\n25,0.5\n25,0.8\n", '"humidity_percent" is never above 0.8 %; is it a fra'),
        ("temperature_degc,humidity_percent\nwarm,moist\n", '1 of 1 rows have no usable "temperature_degc" and'),
    ],
)
def test_what_is_wrong_is_said(text, words, tmp_path):
    path = tmp_path / "hours.csv"
    if text is not None:
        path.write_text(text, encoding="utf-8")
    with pytest.raises(CaseError, match=r"hours\.csv") as caught:
        read_weather(path)
    assert words in str(caught.value)
