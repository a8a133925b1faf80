"""Rows, the answer in words, and the page."""

import re
from html.parser import HTMLParser
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from thermsim.case import Case
from thermsim.report.page.content import in_kinds, silent, warning_lines
from thermsim.report.page.limits import limit_lines
from thermsim.report.page.words import apart, in_words, margin
from thermsim.report.page.write import write_page
from thermsim.report.rows import answer, option_row
from thermsim.store.result import Result
from thermsim.studies.run import run

BASE, LIQUID, MISHAP = "base", "liquid", "liquid, pump stops"

SIX_MB = 6_000_000
SVG_NAME = "http://www.w3.org/2000/svg"  # a name, not an address that is asked for
VOID = {"meta", "img", "br", "link", "input", "hr"}


class Reader(HTMLParser):
    """Checks that tags close in order; keeps addresses, texts and identifiers."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.addresses: list[str] = []
        self.texts: list[str] = []
        self.ids: list[str] = []
        self.alternatives: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in VOID:
            self.open.append(tag)
        told = dict(attrs)
        self.addresses += [told[key] or "" for key in ("href", "src", "action", "data") if key in told]
        self.ids += [told["id"] or ""] if "id" in told else []
        self.alternatives += [told.get("alt") or ""] if tag == "img" else []

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.texts.append(data)


@pytest.fixture(scope="module")
def page(results: dict[str, Result], tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_page(tmp_path_factory.mktemp("page") / "new" / "page.html", "Box <script>alert(1)</script>", results)


def test_a_box_without_sheets_has_a_page_too(tmp_path: Path) -> None:
    case = Case.from_text(
        '[case]\ntitle = "a lump"\n[room]\ntemperature = "20 degC"\n[run]\nduration = "5 min"\n'
        '[part.p]\nwatts = "2 W"\nlimit = "90 degC"\nheat_capacity = "30 J/K"\nsize = "100 x 100 mm"\n'
        '[film.p]\non = "part.p"\nlaw = "fixed"\nh = "10 W/m2K"\n'
    )
    page = write_page(tmp_path / "page.html", "A lump", {BASE: run(case, tmp_path / BASE)})
    reader = Reader()
    reader.feed(page.read_text("utf-8"))
    assert "A lump" in reader.texts
    assert reader.open == []


@pytest.fixture(scope="module")
def read(page: Path) -> Reader:
    reader = Reader()
    reader.feed(page.read_text("utf-8"))
    return reader


def test_the_page_is_whole(read: Reader) -> None:
    assert read.open == []
    assert {"answer", "views", "heat", "parts", "basis", "cautions"} <= set(read.ids)
    assert not {"trials", "chill", "place", "mishap", "sweep"} & set(read.ids)  # no such study was made
    assert len(read.ids) == len(set(read.ids))


def test_the_page_needs_nothing_else(page: Path, read: Reader) -> None:
    for address in read.addresses:
        assert address.startswith("data:image/png;base64,") or address.removeprefix("#") in read.ids
    text = re.sub(r'"data[^"]*"|:"[A-Za-z0-9+/=]*"', "", page.read_text("utf-8"))
    assert not re.search(r"https?:|@import|url\(|\bfetch\(|XMLHttpRequest|import\(", text.replace(SVG_NAME, ""))
    assert "default-src 'none'" in text
    assert page.stat().st_size < SIX_MB


def test_text_stands_out_from_the_paper(page: Path) -> None:
    """Contrast of at least 4.5 to 1 by the formula of WCAG 2.1, success criterion 1.4.3, on paper and tints."""
    text = page.read_text("utf-8")
    colour = dict(re.findall(r"--(\w+): (#[0-9a-f]{6})", text))
    for ink in ("ink", "soft", "link", "bad", "good"):
        for ground in ("paper", "tint"):
            lights = sorted(_luminance(colour[name]) + 0.05 for name in (ink, ground))
            assert lights[1] / lights[0] >= 4.5, (ink, ground)


def _luminance(colour: str) -> float:
    parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_text_of_the_case_is_never_markup(page: Path, read: Reader) -> None:
    assert "<script>alert" not in page.read_text("utf-8")
    assert "Box <script>alert(1)</script>" in "".join(read.texts)


def test_pictures_tell_what_they_show(read: Reader) -> None:
    assert len(read.alternatives) == 2  # for readers without script: maps, curves of the tightest part
    assert all(read.alternatives)


def test_the_page_tells_the_facts(read: Reader, results: dict[str, Result]) -> None:
    text = re.sub(r"\s+", " ", " ".join(read.texts))
    assert "Invented data" in text
    assert "1 of 2 options meets every must-have: “liquid”." in text
    for result in results.values():
        for part in result.summary["parts"].values():
            assert f"{part['worst_degc']:.1f}" in text
        for caution in result.summary["cautions"]:
            assert caution in text
        for warning in result.summary["warnings"]:
            assert in_words(warning) in text
        for limit in result.summary["limits"]:
            assert in_words(limit["text"]) in text
        for used in result.summary["correlations"]:
            assert used["name"] in text


def test_a_row_is_the_summary_in_short(results: dict[str, Result]) -> None:
    row = option_row(results[BASE])
    parts = results[BASE].summary["parts"]
    margins = {name: part["limit_degc"] - part["worst_degc"] for name, part in parts.items() if part["limit_degc"]}
    assert row["option"] == "base"
    assert row["worst_margin_k"] == pytest.approx(min(margins.values()))
    assert row["worst_part"] == min(margins, key=margins.__getitem__)
    assert row["meets_all"] is False
    # two levels add as energies: 29 dB(A) and a floor of 18 make 29.33
    assert row["failed"] == ["quiet: 29.3 dB(A), at most 25"]
    assert row["coolant_l_per_min"] == {}
    assert option_row(results[LIQUID])["meets_all"] is True
    assert option_row(results[MISHAP])["first_over"] == "chip_one"


def _row(option: str, **told: Any) -> dict[str, Any]:
    row = {
        "option": option, "mishaps_at_s": {}, "meets_all": True, "worst_part": "chip", "worst_margin_k": 5.0,
        "first_over": None, "first_over_at_s": None, "noise_with_room_dba": 20.0, "warm_up_s": 600.0,
        "slowest_part": "power_left",
    }  # fmt: skip
    return row | told


def test_the_answer_puts_must_haves_first() -> None:
    lines = answer([
        _row("a", noise_with_room_dba=19.0),
        _row("b", worst_margin_k=7.5, warm_up_s=300.0),
        _row("c", meets_all=False, noise_with_room_dba=8.0),
        _row("d", mishaps_at_s={"pump_stops": 600.0}, first_over="chip", first_over_at_s=900.0),
    ])  # fmt: skip
    assert lines == [
        "2 of 3 options meet every must-have: “a”, “b”.",
        "Most margin: “b”, 7.5 K to the nearest limit (chip).",
        "Quietest: “a”, 19.0 dB(A). “c” would be quieter, 8.0 dB(A), but fails.",
        "Soonest warm: “b”, 5.0 min for the slowest part (power left).",
        "Mishap (pump stops) in “d”: chip is the first over its limit, 5.0 min after it begins.",
    ]


def test_the_answer_when_nothing_passes() -> None:
    lines = answer([_row("a", meets_all=False, worst_margin_k=-2.0, warm_up_s=None)])
    assert lines[0] == "None of the 1 options meets every must-have."
    assert lines[1] == "Most margin (though it fails): “a”, 2.0 K over a limit (chip)."
    assert not any("Soonest" in line for line in lines)


def test_words_of_the_page() -> None:
    assert in_words("fan.pair stops -1.0 K over power_left (-2.5), 3-5, part.x.y at 1.5. Next") == (
        "fan pair stops −1.0 K over power left (−2.5), 3-5, part x.y at 1.5. Next"
    )
    assert [margin(value) for value in (None, 3.04, 0.0, -0.03)] == ["–", "+3.0", "0.0", "−0.03"]
    assert [apart(value, 50.0) for value in (50.03, 50.0, 49.996, 54.21)] == ["50.03", "50.0", "49.996", "54.2"]


def test_temperatures_and_margins_are_of_the_same_moment(results: dict[str, Result]) -> None:
    for result in results.values():
        for told in option_row(result)["parts"].values():
            if told["limit_degc"] is not None:
                assert told["limit_degc"] - told["worst_degc"] == pytest.approx(told["margin_k"], abs=1e-9)
    assert option_row(results[MISHAP])["struck_later"] is True
    assert option_row(results[LIQUID])["struck_later"] is False


def test_options_are_counted_by_what_they_are() -> None:
    kinds = ["design"] * 7 + ["mishap"] * 3
    assert in_kinds([{"kind": kind} for kind in kinds]) == "7 designs, 3 with a mishap"
    assert in_kinds([{"kind": "design"}, {"kind": "conditions"}]) == "1 design, 1 under other conditions"


def test_unknown_must_haves_do_not_pass() -> None:
    assert answer([_row("a", meets_all=None)])[0].startswith("None of")


def test_warnings_are_told_once() -> None:
    told = {"a": ["the room is warm", "no film"], "b": ["the room is warm"]}
    assert warning_lines(told, {"chill": {"warnings": ["the room is warm", "nothing helps"]}}) == [
        ("the room is warm", ""),
        ("no film", "a"),
        ("nothing helps", "chill"),
    ]


def test_limits_are_told_once_by_name_with_whom_they_concern() -> None:
    def of(name: str, where: str, text: str, weight: float = 1.0) -> dict[str, Any]:
        return {"name": name, "where": [where], "text": text, "weight": weight}

    told = {
        "a": [of("flow in transition", "hose.out", "2500"), of("condensation", "plate.c", "wet")],
        "b": [of("flow in transition", "hose.back", "3100", 2.0), of("condensation", "plate.c", "wet")],
    }
    studies = {"loop": {"limits": [of("coolant may boil", "loop.m", "hot") | {"options": ["b"], "worst_in": None}]}}
    assert limit_lines(told, studies) == [
        {"name": "coolant may boil", "where": "loop.m", "options": "b", "text": "hot"},
        {"name": "condensation", "where": "plate.c", "options": "", "text": "wet"},
        {"name": "flow in transition", "where": "hose.back, hose.out", "options": "", "text": "3100 (told of b)"},
    ]


def test_what_is_said_not_to_be_heard_is_named(results: dict[str, Result]) -> None:
    assert silent(results) == ["pump.small"]
    near = {"pump.small.heard": True, "pump.small.noise": "20 dB(A)"}
    beside = SimpleNamespace(case=results["liquid"].case.with_changes(near))
    assert silent({"base": results["base"], "liquid": beside}) == []  # type: ignore[dict-item]
