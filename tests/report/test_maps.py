"""Hotspot maps against the case as written and the fields as stored."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from matplotlib.collections import QuadMesh
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from thermsim.report.labels import Label, place_labels
from thermsim.report.maps import compare_maps, hotspot_map, hottest, map_page
from thermsim.report.style import heat_map, new_figure
from thermsim.store.result import Result, SheetField

BASE, LIQUID, MISHAP = "base", "liquid", "liquid, pump stops"

PARTS = ["chip_one", "adc1", "adc2", "adc3"]


def meshes(figure: Figure) -> list[QuadMesh]:
    return [c for axes in figure.axes for c in axes.collections if isinstance(c, QuadMesh) and c.get_gid() == "cells"]


def outlines(figure: Figure) -> dict[str, Rectangle]:
    patches = (patch for patch in figure.axes[0].patches if isinstance(patch, Rectangle))
    return {patch.get_gid().removeprefix("part "): patch for patch in patches if patch.get_gid().startswith("part ")}


def lines(figure: Figure, label: str) -> list[np.ndarray]:
    return [line.get_xydata() for line in figure.axes[0].lines if line.get_label() == label]


def test_cells_lie_on_their_true_edges(results: dict[str, Result]) -> None:
    field = results[BASE].fields["sheet.board"]
    (mesh,) = meshes(hotspot_map(results[BASE], "sheet.board"))
    corners = mesh.get_coordinates()
    np.testing.assert_allclose(corners[0, :, 0], 1000 * field.x_edges)
    np.testing.assert_allclose(corners[:, 0, 1], 1000 * field.y_edges)
    assert np.ptp(np.diff(field.x_edges)) > 1e-4  # the grid is uneven, or this proves nothing
    np.testing.assert_array_equal(mesh.get_array().filled(np.nan), field.temperature[-1])
    assert mesh.get_array().mask.sum() > 0  # the notch is left white


def test_time_takes_the_nearest_frame(results: dict[str, Result]) -> None:
    field = results[BASE].fields["sheet.board"]  # frames every 5 minutes
    (mesh,) = meshes(hotspot_map(results[BASE], "sheet.board", time=320.0))
    np.testing.assert_array_equal(mesh.get_array().filled(np.nan), field.temperature[1])


def test_outlines_are_those_of_the_case(results: dict[str, Result]) -> None:
    drawn = outlines(hotspot_map(results[BASE], "sheet.board"))
    assert list(drawn) == PARTS
    assert drawn["chip_one"].get_bbox().bounds == pytest.approx((25, 35, 30, 20))  # mm
    assert {patch.get_linestyle() for patch in drawn.values()} == {"-"}


def test_a_plate_shows_what_is_joined_to_it_and_its_channel(results: dict[str, Result]) -> None:
    figure = hotspot_map(results[LIQUID], "plate.main")
    drawn = outlines(figure)
    assert list(drawn) == ["chip_one"]
    assert drawn["chip_one"].get_linestyle() == "--"
    (channel,) = lines(figure, "_channel")
    np.testing.assert_allclose(channel, [[25, 35], [75, 35], [75, 60]])
    arrow = next(text for text in figure.axes[0].texts if text.get_text() == "")
    assert arrow.xyann == pytest.approx((25, 35))
    assert arrow.xy == pytest.approx((39, 35))  # towards the second point


def test_a_plate_is_shown_on_the_board_under_it(results: dict[str, Result]) -> None:
    assert len(lines(hotspot_map(results[LIQUID], "sheet.board"), "_channel")) == 1
    assert lines(hotspot_map(results[BASE], "sheet.board"), "_channel") == []


def test_the_hottest_cell_is_marked_with_its_value(results: dict[str, Result]) -> None:
    field = results[BASE].fields["sheet.board"]
    figure = hotspot_map(results[BASE], "sheet.board")
    top = np.nanmax(field.temperature[-1])
    row, column = np.argwhere(field.temperature[-1] == top)[0]
    (mark,) = lines(figure, "_hottest")
    assert 1000 * field.x_edges[column] < mark[0, 0] < 1000 * field.x_edges[column + 1]
    assert 1000 * field.y_edges[row] < mark[0, 1] < 1000 * field.y_edges[row + 1]
    assert f"hottest cell {top:.1f} °C" in [text.get_text() for text in figure.axes[0].texts]


def test_hottest_looks_past_missing_cells() -> None:
    field = SheetField(
        "sheet.a", np.zeros(1), np.array([0.0, 1.0, 3.0]), np.array([0.0, 2.0]), np.array([[[np.nan, 40.0]]])
    )
    assert hottest(field, 0) == (2.0, 1.0, 40.0)


def test_labels_do_not_collide(results: dict[str, Result]) -> None:
    figure = hotspot_map(results[BASE], "sheet.board")
    axes = figure.axes[0]
    texts = [text for text in axes.texts if text.get_text() and text.get_transform() == axes.transData]
    assert len(texts) == 1 + len(PARTS)
    boxes = [text.get_window_extent() for text in texts]
    for first, second in combinations(boxes, 2):
        assert not first.overlaps(second)
    for box in boxes:
        assert axes.bbox.x0 <= box.x0
        assert box.x1 <= axes.bbox.x1


def test_labels_of_a_crowd_do_not_collide() -> None:
    """Nine parts of 3 mm, 4 mm apart: no name fits inside or right beside them all."""
    figure = new_figure(6.0, 6.0)
    axes = figure.subplots()
    axes.set_xlim(0, 100)
    axes.set_ylim(0, 100)
    figure.draw_without_rendering()
    figure.set_layout_engine("none")
    corners = [(44 + 4 * column, 44 + 4 * row) for row in range(3) for column in range(3)]
    place_labels(axes, [Label(f"part {k}", (x, y, x + 3, y + 3)) for k, (x, y) in enumerate(corners)])
    boxes = [text.get_window_extent() for text in axes.texts]
    assert not any(first.overlaps(second) for first, second in combinations(boxes, 2))
    assert len([line for line in axes.lines if line.get_label() == "_leader"]) >= 3


def test_labels_carry_the_parts_own_temperature(results: dict[str, Result]) -> None:
    told = {text.get_text() for text in hotspot_map(results[BASE], "sheet.board").axes[0].texts}
    for part in PARTS:
        end = results[BASE].part(part).values[-1]
        assert f"{part.replace('_', ' ')}\n{end:.1f}" in told


def test_all_sheets_share_one_scale(results: dict[str, Result]) -> None:
    drawn = meshes(map_page(results[LIQUID]))
    frames = [field.temperature[-1] for field in results[LIQUID].fields.values()]
    assert len(drawn) == len(frames) == 2
    ends = min(map(np.nanmin, frames)), max(map(np.nanmax, frames))
    assert {mesh.get_clim() for mesh in drawn} == {ends}


def test_options_share_one_scale(results: dict[str, Result]) -> None:
    figure = compare_maps(results, "sheet.board")
    drawn = meshes(figure)
    frames = [result.fields["sheet.board"].temperature[-1] for result in results.values()]
    assert len(drawn) == 3
    assert {mesh.get_clim() for mesh in drawn} == {(min(map(np.nanmin, frames)), max(map(np.nanmax, frames)))}
    titles = [axes.get_title(loc="left") for axes in figure.axes[:3]]
    for name, frame, title in zip((BASE, LIQUID, MISHAP), frames, titles, strict=True):
        assert title == f"{name}: up to {np.nanmax(frame):.1f} °C"


def test_options_without_the_sheet_are_left_out(results: dict[str, Result]) -> None:
    assert len(meshes(compare_maps(results, "plate.main"))) == 2
    with pytest.raises(KeyError):
        compare_maps({BASE: results[BASE]}, "plate.main")


def test_limits_of_the_scale_can_be_given(results: dict[str, Result]) -> None:
    (mesh,) = meshes(hotspot_map(results[BASE], "sheet.board", limits=(20.0, 90.0)))
    assert mesh.get_clim() == (20.0, 90.0)


def test_a_level_field_has_a_scale(results: dict[str, Result]) -> None:
    field = results[BASE].fields["sheet.board"]
    level = replace(field, temperature=np.where(np.isnan(field.temperature), np.nan, 22.0))
    (mesh,) = meshes(hotspot_map(replace(results[BASE], fields={"sheet.board": level}), "sheet.board"))
    assert mesh.get_clim() == pytest.approx((21.95, 22.05))


def test_colours_rise_evenly_in_lightness() -> None:
    """CIE 1976 L* (ISO/CIE 11664-4) from linear sRGB luminance (IEC 61966-2-1): brighter is hotter, in even steps."""
    rgb = heat_map()(np.arange(heat_map().N))[:, :3]
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    luminance = linear @ [0.2126, 0.7152, 0.0722]
    cube = np.where(luminance > 216 / 24389, np.cbrt(luminance), (24389 / 27 * luminance + 16) / 116)
    steps = np.diff(116 * cube - 16)
    assert steps.min() > 0
    assert steps.std() < 0.25 * steps.mean()
