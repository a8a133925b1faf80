"""Curves against the summary, the case as written, and hand examples."""

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.colors import to_hex

from thermsim.report.control import control_figure, speeds
from thermsim.report.curves import compare_curves, drift_figure, family, family_styles, warm_up_figure
from thermsim.report.style import line_style, spread
from thermsim.store.result import Result

BASE, LIQUID, MISHAP = "base", "liquid", "liquid, pump stops"


def marks(axes: Axes, label: str) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for line in axes.lines if line.get_label() == label for x, y in line.get_xydata()]


def words(axes: Axes) -> list[str]:
    return [text.get_text() for text in axes.texts]


def test_every_part_is_drawn_over_minutes(results: dict[str, Result]) -> None:
    axes = warm_up_figure(results[BASE]).axes[-1]
    for name, series in results[BASE].curves["parts"].items():
        (line,) = [line for line in axes.lines if line.get_label() == name]
        np.testing.assert_allclose(line.get_xdata(), series.time / 60)
        np.testing.assert_allclose(line.get_ydata(), series.values)


def test_dots_stand_where_parts_settle(results: dict[str, Result]) -> None:
    summary = results[BASE].summary
    dots = marks(warm_up_figure(results[BASE]).axes[-1], "_settled")
    assert len(dots) == 4
    for (minute, value), part in zip(dots, summary["parts"].values(), strict=True):
        assert minute == pytest.approx(part["warm_up_s"] / 60)
        # settled means within half a kelvin of the end; the case keeps that default
        assert value == pytest.approx(part["steady_degc"] - 0.5, abs=0.01)


def test_a_line_marks_the_slowest(results: dict[str, Result]) -> None:
    told = results[BASE].summary["warm_up"]
    axes = warm_up_figure(results[BASE]).axes[-1]
    (line,) = [line for line in axes.lines if line.get_gid() == "slowest"]
    assert line.get_xdata()[0] == pytest.approx(told["time_s"] / 60)
    assert f"slowest: chip one, {told['time_s'] / 60:.1f} min to stay within 0.5 K" in words(axes)


def test_limits_near_the_curves_are_marked(results: dict[str, Result]) -> None:
    heights = {height for _, height in marks(warm_up_figure(results[BASE]).axes[-1], "_limit")}
    assert heights == {60.0, 85.0}
    # parts at 45 °C: a limit of 85 would flatten the curves, so it is only told in words
    axes = warm_up_figure(results[LIQUID]).axes[-1]
    assert {height for _, height in marks(axes, "_limit")} <= {60.0}
    assert f"chip one {results[LIQUID].part('chip_one').values[-1]:.1f} (limit 85)" in words(axes)


def test_the_mishap_and_the_first_part_over_its_limit_are_told(results: dict[str, Result]) -> None:
    part = results[MISHAP].summary["parts"]["chip_one"]
    assert part["over_limit_at_s"] > 600
    axes = warm_up_figure(results[MISHAP]).axes[-1]
    assert marks(axes, "_over") == [(pytest.approx(part["over_limit_at_s"] / 60), 32.0)]
    (line,) = [line for line in axes.lines if line.get_gid() == "mishap pump_stops"]
    assert line.get_xdata()[0] == pytest.approx(10.0)
    assert any(text.startswith("first over its limit: chip one, after ") for text in words(axes))


def test_like_parts_share_a_colour_and_a_label(results: dict[str, Result]) -> None:
    styles = family_styles(["adc1", "adc2", "chip_one"])
    assert styles["adc1"] == styles["adc2"] != styles["chip_one"]
    assert [family(name) for name in ("adc12", "bank_3", "left", "u")] == ["adc", "bank", "left", "u"]
    labels = [text for text in words(warm_up_figure(results[BASE]).axes[-1]) if text.startswith("adc")]
    assert len(labels) == 1
    assert labels[0].startswith("adc ×3 ")


def test_one_part_under_all_options(results: dict[str, Result]) -> None:
    axes = compare_curves(results, "chip_one").axes[0]
    drawn = {line.get_label(): line for line in axes.lines if not line.get_label().startswith("_")}
    assert list(drawn) == [BASE, LIQUID, MISHAP]
    assert len({to_hex(line.get_color()) for line in drawn.values()}) == 3
    np.testing.assert_array_equal(drawn[LIQUID].get_ydata(), results[LIQUID].part("chip_one").values)
    with pytest.raises(KeyError):
        compare_curves(results, "no such part")


def test_drift_in_ppm(results: dict[str, Result]) -> None:
    """3 ppm/K as written in the case, so the error is three times the kelvins still to go."""
    figure = drift_figure(results[BASE])
    assert figure is not None
    axes = figure.axes[0]
    (line,) = [line for line in axes.lines if line.get_label() == "chip_one"]
    steady = results[BASE].summary["parts"]["chip_one"]["steady_degc"]
    np.testing.assert_allclose(line.get_ydata(), 3 * (results[BASE].part("chip_one").values - steady))
    (band,) = [patch for patch in axes.patches if patch.get_label() == "±5 ppm"]
    assert band.get_bbox().y0 == -5
    assert band.get_bbox().y1 == 5


def test_a_stopped_pump_stands_still(results: dict[str, Result]) -> None:
    curves = speeds(results[MISHAP])
    pump = curves["pump small"]
    assert set(pump.values[pump.time < 600]) == {100.0}
    assert set(pump.values[pump.time >= 600]) == {0.0}
    assert set(curves["fan pair"].values) == {40.0}


def test_control_shows_each_quantity_and_the_floor(results: dict[str, Result]) -> None:
    titles = [axes.get_ylabel() for axes in control_figure(results[LIQUID]).axes]
    assert titles == ["speed, %", "air, m³/h", "coolant, L/min", "noise, dB(A)"]
    noise = control_figure(results[BASE]).axes[-1]
    assert {height for _, height in marks(noise, "_floor")} == {18.0}
    assert {height for _, height in marks(noise, "_must")} == {25.0}
    assert "coolant, L/min" not in [axes.get_ylabel() for axes in control_figure(results[BASE]).axes]


def test_forty_lines_are_all_different() -> None:
    assert len({str(line_style(k)) for k in range(40)}) == 40


@pytest.mark.parametrize(
    ("wanted", "placed"),
    [
        ([1.0, 5.0, 9.0], [1.0, 5.0, 9.0]),  # room for all
        ([5.0, 5.0], [4.5, 5.5]),  # two at one place move apart alike
        ([0.0, 0.1], [0.0, 1.0]),  # at the rim only one can move
        ([9.0, 10.0, 9.9], [8.0, 10.0, 9.0]),  # order is kept
        ([2.0] * 21, [k / 2 for k in range(21)]),  # too many: evenly over the range
    ],
)
def test_labels_are_spread(wanted: list[float], placed: list[float]) -> None:
    """By hand, for a range of 0 to 10 and labels one apart."""
    assert spread(wanted, 1.0, 0.0, 10.0) == pytest.approx(placed)
