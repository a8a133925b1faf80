"""`thermsim fit` on logs as files."""

import csv
import json

import pytest
from click.testing import CliRunner

from tests.bench.fit_box import CHANNELS, fit_box, planted_runs
from thermsim.case import load_case
from thermsim.cli import Commands
from thermsim.commands.fit import command

HEADERS = {channel: f"{channel} (°C)" for channel in (*CHANNELS, "room")}


def toml_of(table, path=()):
    """Plain tables as TOML."""
    quoted = ".".join(json.dumps(key) for key in path)
    lines = [f"[{quoted}]"] if path else []
    inner = {key: value for key, value in table.items() if isinstance(value, dict)}
    for key, value in table.items():
        if key not in inner:
            lines.append(f"{json.dumps(key)} = {json.dumps(value, ensure_ascii=False)}")
    return "\n".join(lines) + "\n\n" + "".join(toml_of(value, (*path, key)) for key, value in inner.items())


@pytest.fixture
def folder(tmp_path):
    case = fit_box(fit={"unknowns": ["films"], "hold_out": {"run": "none"}})
    tables = case._source.raw
    runs = {"before 1": {"file": "before.csv", "stands": "before"}}
    columns = {header: channel for channel, header in HEADERS.items()}
    (tmp_path / "case.toml").write_text(toml_of(tables | {"bench": {"columns": columns, "run": runs}}), "utf-8")
    (run,) = planted_runs(case, {"before 1": None})
    with (tmp_path / "before.csv").open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(["Time (s)", *HEADERS.values()])
        for k, time in enumerate(run.log.time):
            writer.writerow([time, *(f"{run.log.readings[channel][k]:.3f}" for channel in HEADERS)])
    return tmp_path


@pytest.mark.slow
def test_the_answer_comes_first_and_the_options_are_written(folder):
    out = folder / "out"
    done = CliRunner().invoke(command, [str(folder / "case.toml"), "-o", str(out), "--no-figures", "--write"])
    assert done.exit_code == 0, done.output
    lines = done.output.splitlines()
    assert "the model matched to the bench" in lines[0]
    assert lines[1].startswith("• Matched to 1 run: films is ")
    assert (out / "fit.json").exists()
    assert (out / "fitted.toml").exists()
    assert load_case(folder / "case.toml", "fitted").spec.film["top"].h == pytest.approx(12.75, rel=0.02)
    for name, extra in (
        ("run", ["-p", "fitted"]),
        ("compare", ["--draws", "2"]),
        ("sweep", ["-p", "fitted", "--samples", "8"]),
    ):
        told = CliRunner().invoke(
            Commands().get_command(None, name), [str(folder), "-o", str(out / name), *extra, "--json"]
        )
        assert told.exit_code in (0, 1), told.output  # 1: a must-have is not met
        assert "fitted" in told.stdout
    # the whole again, with what was written in place
    again = CliRunner().invoke(
        command, [str(folder), "-o", str(out), "--no-figures", "--hold-out", "part.lamp", "--json"]
    )
    assert again.exit_code == 0, again.output
    facts = json.loads(again.stdout)
    assert facts["held_out"]["probe"] == "part.lamp"
    assert facts["fitted_options"] == ["fitted"]


@pytest.mark.parametrize(("extra", "message"), [
    (["--hold-out", "before 7"], 'there is no run "before 7"'),
    (["--hold-out", "part.lump"], 'there is no part "lump"; did you mean "part.lamp"?'),
    (["--unknown", "film"], 'there is no [uncertain."film"]'),
    (["--unknown", "heat"], "say also_watts = true (or --also-watts)"),
])  # fmt: skip
def test_what_cannot_be_is_one_message(folder, extra, message):
    done = CliRunner().invoke(command, [str(folder), "-o", str(folder / "out"), *extra])
    assert done.exit_code != 0
    assert message in str(done.exception)
    assert not (folder / "out" / "fit.json").exists()


def test_the_command_is_listed():
    assert "fit" in Commands().list_commands(None)
