"""Packed fields say what the result says; frames and cells are chosen well."""

import base64
import zlib
from typing import Any

import numpy as np
import pytest

from thermsim.report.page.fields import STEP_K, Fineness, coarser, packed, packed_fields, telling_frames
from thermsim.store.result import Result, SheetField

WHOLE = Fineness(1000, 10**6)


def unpacked(told: dict[str, Any]) -> np.ndarray[Any, Any]:
    """What the page's script makes of a packed field, °C, NaN where there is no cell."""
    halves = np.frombuffer(zlib.decompress(base64.b64decode(told["data"])), np.uint8).astype(np.int64)
    low, high = np.split(halves, 2)
    change = (low | (high << 8)).reshape(-1, len(told["y_mm"]) - 1, len(told["x_mm"]) - 1)
    steps = np.cumsum(np.cumsum(change, axis=2) % 65536, axis=0) % 65536
    return np.where(steps == 0, np.nan, told["low_degc"] + (steps - 1) * STEP_K)


def field(temperature: np.ndarray[Any, Any], time: np.ndarray[Any, Any] | None = None) -> SheetField:
    frames, rows, columns = temperature.shape
    x, y = np.linspace(0, 0.1, columns + 1), np.linspace(0, 0.05, rows + 1)
    return SheetField("sheet.any", np.arange(frames) * 60.0 if time is None else time, x, y, temperature)


def test_a_packed_field_is_the_field_within_half_a_step() -> None:
    random = np.random.default_rng(3)
    temperature = 20.0 + 300.0 * random.random((7, 5, 9))
    temperature[:, 1, 2] = np.nan
    again = unpacked(packed(field(temperature), WHOLE, 20.0))
    assert np.array_equal(np.isnan(again), np.isnan(temperature))
    assert np.nanmax(np.abs(again - temperature)) <= STEP_K / 2 + 1e-9


def test_fields_of_results_are_packed_as_they_are(results: dict[str, Result]) -> None:
    told = packed_fields(results, ["sheet.board", "plate.main"], 10**7)
    assert set(told["fields"]["base"]) == {"sheet.board"}
    assert set(told["fields"]["liquid"]) == {"sheet.board", "plate.main"}
    for name, result in results.items():
        again, stored = unpacked(told["fields"][name]["sheet.board"]), result.fields["sheet.board"].temperature
        assert np.nanmax(np.abs(again - stored)) <= STEP_K / 2 + 1e-6
        assert np.isnan(again).sum() == np.isnan(stored).sum() > 0  # the notch
    options = [told["fields"][name]["sheet.board"] for name in ("base", "liquid")]
    assert options[0]["low_degc"] == options[1]["low_degc"] == told["scales"]["options"][0]


def test_a_small_budget_takes_fewer_cells_and_says_so(results: dict[str, Result]) -> None:
    whole = packed_fields(results, ["sheet.board"], 10**7)
    small = packed_fields(results, ["sheet.board"], 1)
    assert (whole["merged"], small["merged"]) == (False, True)
    assert len(small["fields"]["base"]["sheet.board"]["x_mm"]) <= len(whole["fields"]["base"]["sheet.board"]["x_mm"])


def test_coarser_cells_keep_the_heat_and_the_edges() -> None:
    random = np.random.default_rng(5)
    fine = field(20.0 + random.random((2, 9, 13)))
    fine.temperature[:, 0, 0] = np.nan
    rough = coarser(fine, 30)
    assert rough.temperature.shape == (2, 5, 7)  # twos, and what is left over at the far edges
    assert rough.x_edges[0] == fine.x_edges[0]
    assert rough.x_edges[-1] == fine.x_edges[-1]
    area = np.outer(np.diff(fine.y_edges), np.diff(fine.x_edges))
    rough_area = np.outer(np.diff(rough.y_edges), np.diff(rough.x_edges))
    first = area[0, 0] / rough_area[0, 0]  # the cell that lacks a corner holds that much less
    weight = rough_area * np.where(np.indices(rough_area.shape).sum(axis=0) == 0, 1 - first, 1.0)
    assert np.nansum(fine.temperature[0] * area) == pytest.approx(np.sum(rough.temperature[0] * weight))


def test_a_coarse_field_without_any_cell_stays_empty() -> None:
    temperature = np.full((1, 4, 4), 30.0)
    temperature[:, :2, :2] = np.nan
    assert np.isnan(coarser(field(temperature), 4).temperature[0]).tolist() == [[True, False], [False, False]]


def test_frames_are_where_it_changes() -> None:
    time = np.linspace(0.0, 3600.0, 61)
    warm = 20.0 + 40.0 * (1 - np.exp(-time / 200.0))
    chosen = telling_frames(field(np.tile(warm[:, None, None], (1, 3, 3)), time), 12)
    assert chosen[0] == 0
    assert chosen[-1] == 60
    assert chosen.size <= 12
    assert np.diff(chosen)[:3].max() <= 2  # every frame or two while it warms up
    assert np.diff(chosen)[-1] >= 8  # few when nothing moves
