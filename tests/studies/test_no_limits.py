"""Where nothing has a limit, no study says that limits are kept."""

from click.testing import CliRunner

from thermsim.cli import cli

BOX = """
[case]
title = "a part in a room"
[room]
temperature = "20 degC"
[part.p]
watts = "3 W"
size = "40 x 40 mm"
heat_capacity = "10 J/K"
[film.f]
on = "part.p"
law = "fixed"
h = "20 W/m2K"
"""


def first_line(tmp_path, command: str, *more: str) -> str:
    file = tmp_path / "box.toml"
    file.write_text(BOX, encoding="utf-8")
    done = CliRunner().invoke(cli, [command, str(file), "-o", str(tmp_path), "--no-figures", *more])
    assert done.exit_code == 0, done.output
    return done.output.split("• ", 1)[1].split("\n\n")[0]


def test_a_mishap_cannot_be_said_to_do_no_harm(tmp_path):
    told = first_line(tmp_path, "mishap")
    assert told.startswith("No part has a limit")
    assert "bears" not in told


def test_a_comparison_has_nothing_to_decide_by(tmp_path):
    assert first_line(tmp_path, "compare", "--draws", "0").startswith("No limit and no must-have is stated")
