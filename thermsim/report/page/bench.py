"""Before and after on the page: each temperature's change with its interval, the model beside, curves of both."""

from __future__ import annotations

from typing import Any

from thermsim.bench.paired.answer import short
from thermsim.report.page.curves import chart, plain_line
from thermsim.report.page.words import in_words

Facts = dict[str, Any]
DASHED = "5 3"
VERDICTS = {"lower": "cooler", "higher": "warmer", "not told": "cannot tell"}


def bench_content(facts: Facts) -> Facts:
    """The facts with a row for each temperature; bars run from the largest fall to the largest rise."""
    rises = [row for row in facts["rows"] if row["is_rise"]]
    ends = [edge for row in rises for edge in (row["change"] - row["half_width"], row["change"] + row["half_width"])]
    ends += [row["model"]["change"] for row in rises if row["model"]]
    low, high = min([*ends, 0.0]), max([*ends, 0.0])
    return facts | {
        "rises": [_row(row, low, high) for row in rises],
        "readings": [row | {"name": row["channel"]} for row in facts["rows"] if not row["is_rise"]],
        "modelled": any(row["model"] for row in rises),
        "zero": _share(0.0, low, high),
    }


def _row(row: Facts, low: float, high: float) -> Facts:
    left, right = (_share(row["change"] + side * row["half_width"], low, high) for side in (-1, 1))
    return row | {
        "name": in_words(short(row["channel"])),
        "word": VERDICTS[row["verdict"]],
        "left": left,
        "width": right - left,
        "model_at": None if row["model"] is None else _share(row["model"]["change"], low, high),
    }


def _share(value: float, low: float, high: float) -> float:
    """Per cent of the bar."""
    return 100.0 * (value - low) / (high - low or 1.0)


def bench_charts(facts: Facts) -> dict[str, Facts]:
    """Curves measured and modelled, "bench_before" and "bench_after"; nothing where the model was not run."""
    return {f"bench_{stands}": _chart(told) for stands, told in facts["traces"].items() if told["channels"]}


def _chart(told: Facts) -> Facts:
    minutes = [round(time / 60, 3) for time in told["time_s"]]
    lines, labels = [], []
    for k, (channel, pair) in enumerate(told["channels"].items()):
        name = in_words(short(channel))
        measured = plain_line(name, minutes, _rounded(pair["measured"]), k)
        lines += [measured, plain_line(f"{name}, model", minutes, _rounded(pair["modelled"]), k) | {"dash": DASHED}]
        last = next((value for value in reversed(measured["y"]) if value is not None), 0.0)
        labels.append({"text": f"{name} {last:.1f}", "y": last, "colour": measured["colour"]})
    return chart("minutes since switch-on", "°C", lines) | {"labels": labels}


def _rounded(values: list[float | None]) -> list[float | None]:
    return [None if value is None else round(value, 2) for value in values]
