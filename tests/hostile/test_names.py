"""Names and texts that a file system, a terminal, a page or a figure would obey: refused, or shown as they stand."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest

from tests.hostile.calls import call, unprintable
from tests.hostile.small_case import SMALL
from thermsim.case import Case, CaseError
from thermsim.case.errors import Problem
from thermsim.case.names import obeyed, printable, slug
from thermsim.report.page.write import write_page
from thermsim.studies.run import run

sys.path.append(str(Path(__file__).parents[1] / "report"))
from headless import CHROMIUM, browser

OBEYED = {
    "escape": "\x1b[31m", "bell": "\x07", "control of eight bits": "\x9b31m", "zero": "\x00", "delete": "\x7f",
    "return": "\r", "turned": "\u202eevil", "isolated": "\u2066x", "mark": "\u200f", "line": "\u2028",
}  # fmt: skip
MARKUP = (
    "</script><script>document.title='stolen'</script><img src=x onerror=\"document.title='stolen'\">"
    " {{ 7 * 7 }} {% raw %} ]]> [bold]b[/bold] $\\frac{1}{0}$ & ' \" <b>b</b>"
)


def toml(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


@pytest.mark.parametrize("text", OBEYED.values(), ids=OBEYED)
@pytest.mark.parametrize("place", ["title", "option", "state", "note"])
def test_what_a_terminal_obeys_is_refused_and_shown_as_its_code(tmp_path: Path, text: str, place: str) -> None:
    lines = {
        "title": SMALL.replace('"A board in a box"', toml(f"A{text}")), "note": SMALL.replace('"all there is"',
        toml(text)),
        "option": SMALL + f"[option.{toml('x' + text)}]\n", "state": SMALL.replace("idle = ", f"{toml('s' + text)} = ",
        1),
    }  # fmt: skip
    path = tmp_path / "case.toml"
    path.write_text(lines[place])
    outcome = call(["check", str(path)], tmp_path / "out")
    assert (outcome.ended, outcome.fault) == ("refused", None)
    code = next(one for one in text if obeyed(one))
    assert f"holds the character U+{ord(code):04X}" in outcome.told


def test_ends_of_lines_tabs_and_other_scripts_are_text() -> None:
    text = 'two\nlines\tand "名前", "בית", "😀", "½ µ ° ²"'
    assert obeyed(text) is None
    assert printable(text) == text
    assert Case.from_text(SMALL.replace('"all there is"', toml(text))).spec.case.note == text


@pytest.mark.parametrize("arguments", [["-p", "\x1b[31m"], ["--set", "part.\x1b[2J.watts=1 W"], ["--set",
    "case.title=\x9b"],
                                       ["--mishap", "\u202edies"], ["--\x1b[31m"], ["-o", "\x1b[31m"]])  # fmt: skip
def test_arguments_are_shown_and_not_obeyed(tmp_path: Path, arguments: list[str]) -> None:
    path = tmp_path / "case.toml"
    path.write_text(SMALL)
    outcome = call(["run", str(path), "--no-figures", *arguments], tmp_path / "out")
    assert (outcome.ended, outcome.fault) == ("refused", None)
    assert not unprintable(outcome.told)


@pytest.mark.parametrize(
    "name", ["../x", "..", "/etc/x", "a/b", "a\\b", "", " x", "-o", "x" * 62, "<b>", "a$b", "[b]", "a\nb", "_x"]
)
def test_names_that_are_no_file_names_are_refused(name: str) -> None:
    for kind, table in (("option", ""), ("probe", 'on = "sheet.board"\nat = "30, 30 mm"\n')):
        with pytest.raises(CaseError, match=r"is no usable name"):
            Case.from_text(SMALL + f"[{kind}.{toml(name)}]\n{table}")


def test_two_names_do_not_share_a_folder_and_none_leads_out_of_it() -> None:
    with pytest.raises(CaseError, match='would both go to "a-b"'):
        Case.from_text(SMALL + '[option."a b"]\n[option.A-B]\n')
    for name in ("../../x", "..", "/", "", "con\x00", "☃"):
        assert set(slug(name)) <= set("abcdefghijklmnopqrstuvwxyz0123456789-")
        assert slug(name)


@pytest.mark.parametrize("name", ["CON", "aux.", "Com1", "lpt9", "nul"])
def test_no_folder_is_called_as_windows_calls_a_device(name: str) -> None:
    """Microsoft's documentation, "Naming Files, Paths, and Namespaces"."""
    assert slug(name) == name.lower().strip(".") + "-"
    assert slug("console") == "console"


def test_an_output_folder_without_a_name_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As from a shell's variable that is not set: results would lie about where the call was made."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "case.toml").write_text(SMALL)
    for command in ("run", "compare"):
        outcome = call([command, "case.toml", "-o", ""], tmp_path)
        assert (outcome.ended, outcome.fault) == ("refused", None)
        assert "-o: needs a folder; got nothing" in outcome.told
    assert [path.name for path in tmp_path.iterdir()] == ["case.toml"]


@pytest.mark.parametrize("value", ["9" * 5000, "0x" + "f" * 5000, "[" * 5000, "{" + ".".join(["a"] * 30_000) + " = 1}"])
def test_absurd_values_of_set_are_refused(tmp_path: Path, value: str) -> None:
    path = tmp_path / "case.toml"
    path.write_text(SMALL)
    for address in ("room.temperature", "run.frames"):
        outcome = call(["check", str(path), "--set", f"{address}={value}"], tmp_path / "out")
        assert (outcome.ended, outcome.fault) == ("refused", None)


def test_results_of_a_folder_called_by_dots_stay_in_outputs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    here = tmp_path / "box" / "below"
    here.mkdir(parents=True)
    (tmp_path / "box" / "case.toml").write_text(SMALL)
    monkeypatch.chdir(here)
    assert call(["run", "..", "--no-figures"], here, 40).fault is None
    assert [path.name for path in here.iterdir()] == ["outputs"]
    assert (here / "outputs" / "box" / "base" / "result.h5").is_file()


def test_a_message_is_one_that_can_be_read() -> None:
    told = str(Problem("a\x1b.toml", 3, "part.\u202e", "x" * 10_000))
    assert told.startswith("a\\u001b.toml:3: part.\\u202e: xxx")
    assert len(told) < 1000


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A page of a case whose every free text is markup."""
    folder = tmp_path_factory.mktemp("page")
    text = SMALL.replace('"A board in a box"', toml(f"T {MARKUP}")).replace('"all there is"', toml(f"N {MARKUP}"))
    text = text.replace("idle = ", f"{toml(MARKUP)} = ").replace("3 min, idle", "3 min, work")
    case = Case.from_text(text)
    result = run(case, folder / "base")
    return write_page(folder / "page.html", case.title, {"base": result})


def test_markup_is_text_in_the_page_s_source(page: Path) -> None:
    source = page.read_text(encoding="utf-8")
    assert source.count("<script") == 2  # its data, and its one script
    assert "<img src=x" not in source
    assert "<b>b</b>" not in source
    assert "{{ 7 * 7 }}" in source


@pytest.mark.slow
@pytest.mark.skipif(CHROMIUM is None, reason="chromium is not installed")
def test_markup_is_text_in_a_browser(page: Path, tmp_path: Path) -> None:
    """No script but the page's own runs, nothing is asked for, and the title reads as it was written."""
    with browser(tmp_path) as tab:
        tab.load(page)
        assert tab.run("document.querySelector('h1').textContent") == f"T {MARKUP}"
        assert tab.run("document.title") == f"T {MARKUP}: air or liquid"
        assert tab.run("document.querySelectorAll('h1 *, img[src=x]').length") == 0
        assert tab.run("[...document.querySelectorAll('b')].filter(one => one.textContent === 'b').length") == 0
        assert tab.run("document.scripts.length") == 2
        assert tab.requests == [page.as_uri()]
        assert tab.errors == []


def test_dollars_in_a_figure_are_dollars(tmp_path: Path) -> None:
    from thermsim.report.figures import image
    from thermsim.report.style import heading, new_figure

    figure = new_figure(4, 3)
    heading(figure.subplots(), "costs $\\frac{1}{0}$ and 名前")
    assert image(figure).startswith(b"\x89PNG")
