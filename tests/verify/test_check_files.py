"""Check files and what is read off an answer: refused where wrong, exact where right."""

import shutil
from pathlib import Path

import numpy as np
import pytest

from thermsim.store.result import Result, Series, SheetField
from thermsim.verify.checkfile import CHECKS, Check, CheckError, Row, figures_listed, read_check, read_checks
from thermsim.verify.reading import Answer, fact, got

GOOD = """
title = "t"
source = "a book"
section = "air"
[[row]]
quantity = "q"
expected = 1.0
unit = "K"
tolerance = 0.1
key = "parts.a.steady_degc"
"""
NO_TOLERANCE = "give tolerance, in the unit, or tolerance_percent"
KEY = 'key = "parts.a.steady_degc"'
WRONG = [
    ('section = "air"', 'section = "fire"', "section"),
    ("tolerance = 0.1", "", NO_TOLERANCE),
    ("tolerance = 0.1", "tolerance = 0.1\ntolerance_percent = 1.0", NO_TOLERANCE),
    ("tolerance = 0.1", "tolerance = 0.0", "greater than 0"),
    ("tolerance = 0.1", "tolerance = inf", "finite"),
    ("expected = 1.0", "", "expected is missing"),
    ('= 1.0\nunit = "K"\ntolerance', '= 0.0\nunit = "K"\ntolerance_percent', "a share of nothing"),
    (KEY, "", "give one of key, curve and sheet"),
    (KEY, 'key = "a"\ncurve = "parts.a"', "give one of key, curve and sheet"),
    (KEY, 'key = "a"\npoint = "1, 1 mm"', "point and area are of a sheet"),
    (KEY, 'key = "a"\nof = "cold"', 'there is no ask "cold"'),
    (KEY, 'key = "a"\nsecret = 1', "secret"),
    (KEY, 'key = "a"\ntable = [["b", 1.0]]', "a table has its own values"),
    ('title = "t"', "title = ", "not TOML"),
]  # fmt: skip


def written(folder: Path, text: str) -> Check:
    (folder / "one").mkdir()
    (folder / "one" / "check.toml").write_text(text, encoding="utf-8")
    return read_check("one", folder)


def test_a_good_file_is_read(tmp_path) -> None:
    assert list(written(tmp_path, GOOD).ask) == ["run"]


@pytest.mark.parametrize(("old", "new", "message"), WRONG)
def test_a_bad_file_is_refused(old, new, message, tmp_path) -> None:
    assert old in GOOD
    with pytest.raises(CheckError, match=message):
        written(tmp_path, GOOD.replace(old, new))


@pytest.fixture
def two(tmp_path) -> Path:
    """A folder of two checks and their list, as an installation holds them."""
    written(tmp_path, GOOD)
    shutil.copytree(tmp_path / "one", tmp_path / "other")
    (tmp_path / "figures.toml").write_text("one = 1\nother = 1\n", encoding="utf-8")
    return tmp_path


def test_the_list_tells_what_there_is(two) -> None:
    assert list(read_checks(folder=two)) == ["one", "other"]
    assert set(figures_listed()) == {path.parent.name for path in CHECKS.glob("*/check.toml")}


@pytest.mark.parametrize("lost", ["other/check.toml", "figures.toml"])
def test_a_half_installation_is_told(lost, two) -> None:
    """A check that is gone must not pass for one that was never there."""
    (two / lost).unlink()
    with pytest.raises(CheckError, match=f"{lost}.*install thermsim again"):
        read_checks(folder=two)


def test_figures_cut_off_are_told(two) -> None:
    (two / "figures.toml").write_text("one = 1\nother = 2\n", encoding="utf-8")
    with pytest.raises(CheckError, match="other: 1 figures; there should be 2"):
        read_checks(folder=two)
    assert list(read_checks(["one"], two)) == ["one"]


def test_no_checks_at_all_is_told(two) -> None:
    (two / "figures.toml").write_text("", encoding="utf-8")
    with pytest.raises(CheckError, match="lists no check"):
        read_checks(folder=two)


FACTS = {
    "leaving_w": {"edge.hot": -2.0, "edge.cold": 2.0},
    "criteria": {"2 K/h": {"time_s": 10.0}},
    "books": [{"elements": [{"element": "hose.a", "drop_pa": 7}, {"element": "plate.b", "drop_pa": 9}]}],
    "nothing": None,
    "nan": float("nan"),
}


def answer() -> dict[str, Answer]:
    """A sheet of 3 x 2 cells, unevenly wide, with T = 10 + 100 x + 1000 y + t; a curve 5 t."""
    x, y, time = np.array([0.0, 0.01, 0.03, 0.04]), np.array([0.0, 0.02, 0.03]), np.array([0.0, 60.0])
    at_x, at_y = (x[1:] + x[:-1]) / 2, (y[1:] + y[:-1]) / 2
    field = 10 + 100 * at_x[None, None, :] + 1000 * at_y[None, :, None] + time[:, None, None]
    sheet = SheetField("sheet.s", time, x, y, field)
    curve = Series(time, 5 * time, "degC", "a")
    return {"run": Answer(FACTS, Result(Path(), None, {}, True, {"sheet.s": sheet}, {"parts": {"a": curve}}))}


def value(**reading) -> float:
    row = {"quantity": "q", "unit": "K", "tolerance": 1.0} | ({} if "table" in reading else {"expected": 0.0}) | reading
    return got(Row.model_validate(row), answer(), "run")


@pytest.mark.parametrize(
    ("reading", "expected"),
    [
        ({"key": "leaving_w.edge.hot", "factor": -3.0, "offset": 1.0}, 7.0),
        ({"key": "criteria.2 K/h.time_s"}, 10.0),
        ({"key": "books.0.elements.[element=plate.b].drop_pa"}, 9.0),
        ({"key": "books.0.elements.0.drop_pa", "over": {"key": "leaving_w.edge.cold"}}, 3.5),
        ({"key": "leaving_w.edge.hot", "plus": {"key": "books.0.elements.0.drop_pa"}}, 5.0),
        ({"curve": "parts.a"}, 300.0),
        ({"curve": "parts.a", "time": "30 s", "minus": {"curve": "parts.a", "time": "12 s"}}, 90.0),
        ({"sheet": "s", "point": "20, 20 mm"}, 92.0),
        ({"sheet": "s", "point": "0, 0 mm"}, 70.0),  # beyond the outermost centres
        ({"sheet": "s", "point": "40, 30 mm"}, 104.0),
        ({"sheet": "s", "area": ("10, 0 mm", "30 x 20 mm")}, 82.5),  # cells of 20 and 10 mm at 20 and 35 mm
        ({"table": (("leaving_w.edge.hot", -2.0), ("leaving_w.edge.cold", 2.5))}, -0.5),
        ({"curve": "parts.a", "table": (("12 s", 61.0), ("30 s", 148.0))}, 2.0),
        ({"sheet": "s", "table": (("0, 0 mm", 70.0), ("20, 20 mm", 91.0))}, 1.0),
    ],
)
def test_what_is_read(reading, expected) -> None:
    assert value(**reading) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize(
    "reading",
    [
        {"key": "leaving_w.edge.warm"}, {"key": "nothing"}, {"key": "nan"}, {"key": "leaving_w"},
        {"key": "books.3.elements"}, {"curve": "parts.b"}, {"curve": "parts.a", "time": "61 s"},
        {"sheet": "t", "point": "0, 0 mm"}, {"sheet": "s"}, {"sheet": "s", "point": "0, 0 mm", "time": "30 s"},
        {"table": (("leaving_w.edge.hot", 0.0), ("nan", 0.0))},
    ],
)  # fmt: skip
def test_what_is_not_there_is_said(reading) -> None:
    with pytest.raises(CheckError):
        value(**reading)


def test_the_longest_key_is_taken() -> None:
    assert fact({"a": {"b": 1}, "a.b": 2}, "a.b") == 2
