"""What the README shows is run as it stands."""

import re
from pathlib import Path

import pytest

from thermsim.case import Case

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def blocks(language):
    return re.findall(rf"```{language}\n(.*?)```", README, re.S)


@pytest.mark.slow
def test_the_python_example_runs(tmp_path, monkeypatch):
    (code,) = blocks("python")
    monkeypatch.chdir(ROOT)
    names = {}
    exec(code.replace('"outputs/hybrid"', repr(str(tmp_path))), names)
    assert names["result"].summary["parts"]["fpga"]["steady_degc"] == pytest.approx(32.0, abs=0.1)


def test_the_case_example_is_valid_where_it_stands():
    (text,) = blocks("toml")
    case = Case.load(ROOT / "cases" / "digitiser")
    assert "better paste" in case.options
    for line in text.splitlines():
        if line.startswith("["):
            assert line in (ROOT / "cases" / "digitiser" / "case.toml").read_text(encoding="utf-8")


def test_the_two_set_up_commands_are_there():
    commands = [line for block in blocks("sh") for line in block.splitlines() if line.startswith("python3 -m venv")]
    assert len(commands) == 2
    assert "compare cases/digitiser" in commands[0]
    assert "/pytest" in commands[1]


def test_every_figure_of_the_readme_exists():
    figures = re.findall(r"!\[[^\]]*\]\(([^)]+)\)", README)
    assert figures
    assert all((ROOT / figure).exists() for figure in figures)
