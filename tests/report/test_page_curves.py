"""Curves on the page say what the result says, by fewer points."""

import numpy as np
import pytest

from thermsim.report.figures import hottest_of_families
from thermsim.report.page.curves import TOLERANCE, control_charts, corners, part_charts, warm_up_chart
from thermsim.store.result import Result


def test_few_points_stay_within_the_tolerance() -> None:
    x = np.linspace(0.0, 60.0, 601)
    y = 20.0 + 40.0 * (1 - np.exp(-x / 4.0)) + np.where(x > 40, 0.5 * (x - 40), 0.0)
    kept = corners(x, y, 0.05, 240)
    assert kept[0] == 0
    assert kept[-1] == 600
    assert kept.size < 40
    assert np.abs(np.interp(x, x[kept], y[kept]) - y).max() <= 0.05
    assert corners(x, y, 0.0, 50).size == 50


def test_the_warm_up_chart_is_the_result(results: dict[str, Result]) -> None:
    for result in results.values():
        told = warm_up_chart(result)
        span = max(max(line["y"]) for line in told["lines"]) - min(min(line["y"]) for line in told["lines"])
        for line, series in zip(told["lines"], result.curves["parts"].values(), strict=True):
            again = np.interp(series.time / 60, line["x"], line["y"])
            assert np.abs(again - series.values).max() <= TOLERANCE * span + 0.001
        assert {limit["y"] for limit in told["limits"]} <= {85.0, 60.0, 32.0}


def test_marks_tell_mishap_limit_and_warm_up(results: dict[str, Result]) -> None:
    texts = [mark["text"] for mark in warm_up_chart(results["liquid, pump stops"])["marks"]]
    assert texts[0] == "pump stops"
    over = results["liquid, pump stops"].summary["parts"]["chip_one"]["over_limit_at_s"]
    assert f"chip one over its limit, {over / 60:.1f} min" in texts
    assert any(mark["text"].startswith("warm after") for mark in warm_up_chart(results["base"])["marks"])


def test_noise_has_its_floor_and_must_have(results: dict[str, Result]) -> None:
    noise = next(one for one in control_charts(results["base"]) if one["y_label"].startswith("noise"))
    assert [(level["y"], level["text"]) for level in noise["levels"]] == [
        (18.0, "room 18"), (25.0, "must-have: at most 25"),
    ]  # fmt: skip


def test_the_tightest_part_comes_first_and_like_parts_once(results: dict[str, Result]) -> None:
    names = list(part_charts(results))
    margins = {
        part: min(results[name].summary["parts"][part]["margin_k"] for name in ("base", "liquid"))
        for part in hottest_of_families({name: results[name] for name in ("base", "liquid")})
    }
    order = sorted(margins, key=lambda part: margins[part])
    told = [name for name in names if "options" in name]
    assert len(margins) == 2  # one of the three alike, and the other
    assert told == [f"{part.replace('_', ' ')}, all options" for part in order]
    assert [line["name"] for line in part_charts(results)["chip one, all options"]["lines"]] == ["base", "liquid"]
    assert part_charts(results)["chip one, all options"]["levels"][0]["y"] == pytest.approx(85.0)
