"""`thermsim verify`: every published figure is met, and a figure turns red where the physics is broken."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from thermsim.cli import cli
from thermsim.model import edges, links, sheets
from thermsim.report.verify_text import verify_text
from thermsim.verify import ask
from thermsim.verify.ask import examine_check
from thermsim.verify.checkfile import CHECKS, SECTIONS, check_names, read_check, read_checks


def judged(*names: str) -> dict[tuple[str, str], bool]:
    """Whether each figure of these checks is met, in this process."""
    rows = [row for name in names for row in examine_check(name, read_check(name), CHECKS / name)]
    return {(row["check"], row["quantity"]): row["passed"] for row in rows}


def call(*arguments: str | Path) -> Result:
    return CliRunner().invoke(cli, ["verify", *map(str, arguments)])


@pytest.mark.slow
def test_every_published_figure_is_met(tmp_path: Path) -> None:
    done = call("--json", "-o", tmp_path)
    facts = json.loads(done.stdout)
    print(f"{len(facts['rows'])} figures, {facts['seconds']} s")
    assert [row for row in facts["rows"] if not row["passed"]] == []
    assert done.exit_code == 0
    assert len(facts["rows"]) >= 60
    assert [one["section"] for one in facts["sections"]] == list(SECTIONS)
    assert json.loads((tmp_path / "verify.json").read_text(encoding="utf-8")) == facts
    assert max(map(len, verify_text(facts, 110).splitlines())) <= 110
    assert "What it does not prove" in (tmp_path / "verify.html").read_text(encoding="utf-8")


def arithmetic_mean(monkeypatch: pytest.MonkeyPatch) -> None:
    """Across unlike cells the mean of conductivities in place of the harmonic one."""
    mean = property(lambda variable: variable.arithmeticFaceValue)
    monkeypatch.setattr(sheets.quiet_fipy().CellVariable, "harmonicFaceValue", mean)


def no_half_cell(monkeypatch: pytest.MonkeyPatch) -> None:
    """An edge acts on the centre of the outermost cell: the half cell between conducts 10 000 times better."""
    rim = edges.rim

    def short(*place):
        node, length, to_rim, thickness = rim(*place)
        return node, length, 1e4 * to_rim, thickness

    monkeypatch.setattr(edges, "rim", short)


def against_the_stream(monkeypatch: pytest.MonkeyPatch) -> None:
    """Coolant takes what it carries from the cell it flows to."""
    link = links.Builder.link

    def turned(self, name, kind, receiver, sender, weight, **more):
        if name.endswith(" stream"):
            receiver, sender = sender, receiver
        link(self, name, kind, receiver, sender, weight, **more)

    monkeypatch.setattr(links.Builder, "link", turned)


MUTATIONS = [
    (arithmetic_mean, [("unlike_halves", "insulated end"), ("unlike_halves", "both halves, 25 to 75 mm")]),
    (no_half_cell, [
        ("unlike_halves", "insulated end"), ("plane_wall", "middle at Bi 10 (C1 1.2620, ζ 1.4289)"),
    ]),
    (against_the_stream, [("warm_channel", "outlet temperature, NTU 0.447")]),
]  # fmt: skip


@pytest.mark.parametrize(("mutation", "red"), MUTATIONS, ids=[mutation.__name__ for mutation, _ in MUTATIONS])
def test_broken_physics_turns_figures_red(mutation, red, monkeypatch) -> None:
    names = list(dict.fromkeys(check for check, _ in red))
    assert all(judged(*names).values())
    mutation(monkeypatch)
    told = judged(*names)
    assert [told[figure] for figure in red] == [False] * len(red)


def test_a_figure_not_met_gives_status_1_and_is_named_first(tmp_path, monkeypatch) -> None:
    arithmetic_mean(monkeypatch)
    done = call("unlike_halves", "-o", tmp_path)
    assert done.exit_code == 1
    first, second, third = done.stdout.splitlines()[:3]
    assert first.startswith("• 1 of 3 published figures met on this machine in ")
    assert second == "• 2 are NOT met: trust no number of this installation yet."
    assert third == "• unlike_halves, insulated end: got 114.776, published 115.312 ± 0.02 °C"
    assert json.loads((tmp_path / "verify.json").read_text(encoding="utf-8"))["answer"][1] in second


def test_a_part_of_the_checks_does_not_pass_for_all(tmp_path) -> None:
    done = call("series_wall", "-o", tmp_path)
    assert done.exit_code == 0
    part = f"Only 1 of the {len(check_names())} checks was asked."
    assert part in done.stdout
    page = (tmp_path / "verify.html").read_text(encoding="utf-8")
    assert part in page
    assert f"<dd>1 of {len(check_names())}</dd>" in page


def test_a_case_that_does_not_run_is_a_red_row_with_its_message(tmp_path) -> None:
    folder = tmp_path / "paste"
    folder.mkdir()
    text = (CHECKS / "paste" / "case.toml").read_text(encoding="utf-8").replace('watts = "40 W"', 'watts = "40 K"')
    (folder / "case.toml").write_text(text, encoding="utf-8")
    rows = examine_check("paste", read_check("paste"), folder)
    assert [row["passed"] for row in rows] == [False] * 3
    assert "part.chip.watts" in rows[0]["error"]
    assert "Traceback" not in rows[0]["error"]


def test_a_row_never_reads_another_ask_than_its_own(monkeypatch) -> None:
    """Where the first ask fails, a row without a name is not met; one of another ask is."""
    real = ask.answer_of

    def first_fails(path, asked):
        if asked.option is None:
            raise RuntimeError("no memory")
        return real(path, asked)

    monkeypatch.setattr(ask, "answer_of", first_fails)
    rows = examine_check("paste", read_check("paste"), CHECKS / "paste")
    assert [row["passed"] for row in rows] == [False, True, True]
    assert rows[0]["error"] == "RuntimeError: no memory"


def test_the_list_names_every_check() -> None:
    done = call("--list")
    assert done.exit_code == 0
    assert all(name in done.stdout for name in check_names())


def test_an_unknown_name_is_refused() -> None:
    done = call("two_node")
    assert (
        str(done.exception)
        == 'there is no check "two_node"; did you mean "two_nodes"?; `thermsim verify --list` names them'
    )
    assert done.exception.exit_status == 2


def test_every_check_says_what_it_sets_up_and_where_its_figures_are_from() -> None:
    for name, check in read_checks().items():
        assert (CHECKS / name / "case.toml").read_text(encoding="utf-8").startswith("# "), name
        assert len(check.source) > 20, name
