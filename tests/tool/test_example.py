"""`thermsim example`: a demo case in a folder of one's own."""

import importlib.metadata
from pathlib import Path

import pytest
from click.testing import CliRunner

import thermsim
from thermsim.case import load_case
from thermsim.cli import cli
from thermsim.commands import example

CASES = Path(thermsim.__file__).resolve().parents[1] / "cases"


def call(*arguments):
    return CliRunner().invoke(cli, ["example", *map(str, arguments)])


def test_lists_them():
    assert [line.split()[0] for line in call().output.splitlines()] == ["digitiser", "organ"]


@pytest.mark.parametrize("name", ["digitiser", "organ"])
def test_a_copy_is_the_case(name, tmp_path):
    done = call(name, tmp_path / "mine")
    assert done.exit_code == 0, done.output
    assert f"Next: thermsim compare {tmp_path / 'mine'}" in done.output
    copied, original = load_case(tmp_path / "mine"), load_case(CASES / name)
    assert copied.digest() == original.digest()
    for run in original.spec.bench.run.values():
        assert (tmp_path / "mine" / run.file).read_bytes() == (CASES / name / run.file).read_bytes()


def test_nothing_is_overwritten(tmp_path):
    (tmp_path / "mine").mkdir()
    done = call("organ", tmp_path / "mine")
    assert done.exit_code == 2
    assert "exists already" in done.output
    assert not list((tmp_path / "mine").iterdir())


def test_a_misspelt_name():
    done = call("organs")
    assert done.exit_code == 2
    assert 'there is no demo case "organs"; did you mean "organ"?' in done.output


def test_found_where_a_wheel_puts_them(tmp_path, monkeypatch):
    place = tmp_path / "share/thermsim/cases/digitiser/case.toml"
    place.parent.mkdir(parents=True)
    place.touch()

    class Installed(importlib.metadata.PackagePath):
        def locate(self):
            return place

    monkeypatch.setattr(thermsim, "__file__", str(tmp_path / "lib/thermsim/__init__.py"))
    monkeypatch.setattr(example, "files", lambda name: [Installed("../../../share/thermsim/cases/digitiser/case.toml")])
    assert example.demo_cases() == {"digitiser": place.parent}
