"""What a watt here does there: against a series solution of the cooled sheet, and reciprocal without streams."""

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.append(str(Path(__file__).parent))
from plate_box import plate_box

from thermsim.case import Case
from thermsim.model.build import build
from thermsim.solve.columns import Port, port_response
from thermsim.solve.factor import Factor
from thermsim.studies.place.box import BoxSide
from thermsim.studies.place.search import Screening
from thermsim.studies.place.setup import search_of

SHEET = """
[case]
title = "a cooled sheet"
[room]
temperature = "20 degC"
[run]
cell = "1 mm"
[sheet.board]
corner = "0, 0 mm"
size = "160 x 100 mm"
thickness = "1.6 mm"
conductivity = "20 W/mK"
conductivity_through = "1e6 W/mK"
heat_density = "2e6 J/m3K"
[film.both]
on = "sheet.board"
law = "fixed"
h = "20 W/m2K"
"""
A, B = ((0.030, 0.020), (0.050, 0.040)), ((0.115, 0.065), (0.125, 0.075))  # corners of two patches


def mean_of_cosine(low, high, length, number):
    """Mean of cos(nπx/L) over a stretch."""
    k = number * np.pi / length
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(number == 0, 1.0, (np.sin(k * high) - np.sin(k * low)) / (k * (high - low)))


def series(first, second):
    """Mean rise of one patch for a watt spread over the other: separation of variables in cosines (Carslaw & Jaeger,
    Conduction of Heat in Solids), sheet of 160 x 100 mm with rims insulated, kt = 0.032 W/K, h = 20 W/m²K.
    """
    a, b, kt, h = 0.16, 0.1, 0.032, 20.0
    m, n = np.arange(1500)[:, None], np.arange(1500)[None, :]
    weight = (2 - (m == 0)) * (2 - (n == 0)) / (a * b)
    shapes = [
        mean_of_cosine(low[0], high[0], a, m) * mean_of_cosine(low[1], high[1], b, n) for low, high in (first, second)
    ]
    return float((weight * shapes[0] * shapes[1] / (kt * ((m * np.pi / a) ** 2 + (n * np.pi / b) ** 2) + h)).sum())


def test_patches_of_a_sheet():
    case = Case.from_text(SHEET)
    model = build(case)
    cells = model.site.sheets["sheet.board"]
    ports = []
    for low, high in (A, B):
        where = cells.inside(low, (high[0] - low[0], high[1] - low[1]))
        ports.append(Port.over(cells.node[where], cells.area[where]))
    inputs = model.program.at(0.0, {})
    matrix = model.square(model.matrix(model.strengths(model.conditions(model.start(), inputs))))
    found = port_response(Factor(matrix), ports, model.node_count)
    # K/W: the series gives 10.482, 13.741 and 0.987 both ways; on 1 mm cells a 10 mm patch reads 0.3 % high
    wanted = [[series(A, A), series(A, B)], [series(B, A), series(B, B)]]
    assert wanted[0][0] == pytest.approx(10.48175, rel=1e-3)
    assert wanted[1][1] == pytest.approx(13.74112, rel=1e-3)
    assert wanted[0][1] == pytest.approx(0.987068, rel=1e-4)
    np.testing.assert_allclose(found, wanted, rtol=4e-3)
    assert found[0, 1] == pytest.approx(found[1, 0], rel=1e-10)


def test_a_box_without_streams_is_reciprocal_and_one_with_them_is_not():
    for flow, same in (("0 m3/h", True), ("10 m3/h", False)):
        films = {f"film.{name}.to": "room" for name in ("top", "bottom")} if same else {}
        search = search_of(plate_box({"airway.main.flow": flow, "radiation.lid": None, **films}))
        bare = Screening(search).bare_case
        box = BoxSide(bare, (), ("sheet.board",))
        box.linearise()
        off = np.abs(box.response - box.response.T).max() / np.abs(box.response).max()
        assert (off < 1e-6) == same
