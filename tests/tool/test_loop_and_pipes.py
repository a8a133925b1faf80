"""`thermsim loop` and `thermsim pipes`: answer first, files, statuses."""

import json
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

sys.path.append(str(Path(__file__).parents[1] / "studies"))
from one_loop import TEXT

from thermsim.cli import cli, main

PIPES = """
[part.other]
watts = "20 W"
heat_capacity = "5 J/K"
[joint.foot]
between = ["part.other", "part.chip"]
resistance = "50 K/W"
[heat_pipe.one]
between = ["part.other", "part.chip"]
resistance = "0.3 K/W"
capacity = "30 W"
"""


@pytest.fixture
def case_file(tmp_path):
    path = tmp_path / "bench.toml"
    path.write_text(TEXT + PIPES, encoding="utf-8")
    return path


def run(*arguments):
    result = CliRunner().invoke(cli, [str(argument) for argument in arguments])
    assert result.exit_code == 0, result.output
    return result.stdout


@pytest.mark.parametrize(
    ("command", "begins"), [("loop", "• The loop carries"), ("pipes", "• The pipe one carries it")]
)
def test_answer_comes_first_and_is_stored(case_file, tmp_path, command, begins):
    out = tmp_path / "out"
    lines = run(command, case_file, "-o", out).splitlines()
    assert lines[1].startswith(begins)
    facts = json.loads((out / f"{command}.json").read_text())
    assert facts["study"] == command
    assert (out / f"{command}.png").stat().st_size > 10_000


@pytest.mark.parametrize("command", ["loop", "pipes"])
def test_json(case_file, tmp_path, command):
    facts = json.loads(run(command, case_file, "-p", "base", "-o", tmp_path, "--no-figures", "--json"))
    assert facts["option"] == "base"
    assert not list(tmp_path.glob("*.png"))


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("-p", "hybird"), 'unknown option "hybird"'),
        (("--set", "loop.main.rating=10 W"), "'10 W' is a power; expected a pressure"),
    ],
)
def test_mistakes_are_told_in_one_message(case_file, monkeypatch, capsys, arguments, message):
    monkeypatch.setattr(sys, "argv", ["thermsim", "loop", str(case_file), *arguments])
    with pytest.raises(SystemExit) as left:
        main()
    assert left.value.code == 2
    told = capsys.readouterr().err
    assert message in told
    assert "Traceback" not in told


def test_a_case_without_a_loop(monkeypatch, capsys):
    monkeypatch.setattr(sys, "argv", ["thermsim", "pipes", "cases/digitiser"])
    monkeypatch.chdir(Path(__file__).parents[2])
    with pytest.raises(SystemExit) as left:
        main()
    assert left.value.code == 2
    assert "no option of this case has a heat pipe" in capsys.readouterr().err


def test_what_an_option_adds_can_be_changed(tmp_path):
    case = Path(__file__).parents[2] / "cases" / "digitiser"
    wider = ("--set", "hose.out.bore=6 mm", "--set", "run.cell=10 mm", "--json", "--no-figures", "-o", tmp_path)
    books = json.loads(run("loop", case, *wider))["books"]
    assert [book["option"] for book in books] == ["liquid, fans off", "hybrid"]
    (book,) = json.loads(run("loop", case, "-p", "hybrid", *wider))["books"]
    out, _, back = (row["drop_pa"] for row in book["elements"][:3])
    assert out < back / 3
