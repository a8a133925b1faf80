"""`thermsim bench`: the answer first, files, flags, and one clear message for each set of runs that will not do."""

import json
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

sys.path.append(str(Path(__file__).parents[1] / "bench"))
from bench_box import CASE, bench_box

from thermsim.cli import cli, main

RUNS = '[bench.run.b]\nfile = "b.csv"\nstands = "before"\n[bench.run.a]\nfile = "a.csv"\nstands = "after"\n'
HEAD = "Time [s],A [°C],B [°C],Room 1 [°C],Room 2 [°C],Room 3 [°C],Supply [W]"


@pytest.fixture(scope="module")
def case_file(tmp_path_factory):
    return bench_box(tmp_path_factory.mktemp("bench"), {})


def run(*arguments):
    result = CliRunner().invoke(cli, [str(argument) for argument in arguments])
    assert result.exit_code == 0, result.output
    return result.stdout


def test_answer_first_then_files(case_file, tmp_path):
    lines = run("bench", case_file, "-o", tmp_path).splitlines()
    assert lines[0] == "two parts on a bench (invented demo data): before (3 × base case) and after (3 × pasted)"
    assert lines[1].startswith("• Cooler after: 1 of 2 parts")
    assert lines[-1] == f"Stored in {tmp_path} with figures."
    assert {path.name for path in tmp_path.iterdir()} >= {"bench.json", "bench-changes.png", "bench-traces.svg"}
    assert any(line.startswith("caution:") for line in lines)


def test_json_and_logs_by_flags(case_file, tmp_path):
    """Logs that flags name take the place of the case's own of that stand; the option stays theirs."""
    folder = case_file.parent
    case_file.write_text(case_file.read_text() + '\n[fit]\nhold_out.run = "before 2"\n')  # gone with the case's own
    flags = ("--before", folder / "before 2.csv", "--after", folder / "after 1.csv", "--no-model", "--no-figures")
    facts = json.loads(run("bench", case_file, "-o", tmp_path, "--json", *flags))
    assert facts["counts"] == {"before": 1, "after": 1}
    assert facts["options"] == {"before": None, "after": "pasted"}
    assert [Path(one["file"]).name for one in facts["runs"]] == ["before 2.csv", "after 1.csv"]
    assert not list(tmp_path.glob("*.png"))


def test_the_option_by_flag_is_that_of_the_case_s_runs_after(case_file, tmp_path):
    flags = ("-o", tmp_path, "--json", "--no-model", "--no-figures")
    assert json.loads(run("bench", case_file, *flags, "-p", "base"))["options"]["after"] is None
    result = CliRunner().invoke(cli, ["bench", str(case_file), *map(str, flags), "-p", "pastd"])
    assert 'there is no option "pastd"; did you mean "pasted"?' in str(result.exception)


def test_a_file_is_no_folder_for_results(case_file):
    result = CliRunner().invoke(cli, ["bench", str(case_file), "--no-model", "-o", str(case_file)])
    assert (result.exit_code, "is a file; expected a folder" in result.output) == (2, True)


def test_settings_by_flags(case_file, tmp_path):
    facts = json.loads(run(
        "bench", case_file, "-o", tmp_path, "--json", "--no-model", "--no-figures", "--paired", "--moved", "part.a",
        "--window", "5 min", "--same-watts",
    ))  # fmt: skip
    told = facts["settings"]
    assert (told["paired"], told["moved"], told["window_s"], told["same_watts"]) == (True, ["part.a"], 300.0, True)
    assert any("moved" in one["source"] for one in facts["rows"][0]["budget"])


def test_touch_dew_and_limits_are_said(case_file, tmp_path):
    """48 °C for metal held a minute (IEC 62368-1, from memory); 45 % at 21 °C has its dew point at 8.7 °C."""
    text = run(
        "bench", case_file, "-o", tmp_path, "--no-model", "--no-figures",
        "--set", 'bench.touch={"part.a"={material="metal", contact="2 min"}}',
    )  # fmt: skip
    assert "part.a would be 49 °C in a room of 25 °C, over 48 °C for metal touched for 120 s" in " ".join(text.split())
    assert "touch after: part.a 42 °C in a room of 25 °C, limit 48 °C" in text


def test_without_runs_the_protocol(tmp_path):
    path = tmp_path / "case.toml"
    path.write_text(CASE, encoding="utf-8")
    assert "bench protocol" in run("bench", path).splitlines()[0]
    assert json.loads(run("bench", path, "--protocol", "--json"))["study"] == "protocol"


def refused(capsys, monkeypatch, *arguments):
    """Status and message of a command that fails."""
    monkeypatch.setattr(sys, "argv", ["thermsim", *map(str, arguments)])
    with pytest.raises(SystemExit) as stopped:
        main()
    return stopped.value.code, capsys.readouterr().err.strip()


def rows(minutes, first=20.0, columns=7, step=10):
    """A log's rows, every reading the same."""
    count = int(60 * minutes / step) + 1
    return "\n".join(",".join([str(step * k), *[str(first)] * (columns - 1)]) for k in range(count))


LOG = f"{HEAD}\n{rows(10)}\n"
ONLY_A = f"Time [s],A [°C]\n{rows(10, columns=2)}\n"
ONLY_B = f"Time [s],B [°C]\n{rows(10, columns=2)}\n"
DEAD = f"{HEAD}\n" + "\n".join(f"{10 * k},,,,,," for k in range(60)) + "\n"


LATER = '[bench.run.c]\nfile = "a.csv"\nstands = "after"\n'
BOTH = {"b": LOG, "a": LOG}


@pytest.mark.parametrize(
    ("files", "settings", "runs", "said"),
    [
        ({"b": LOG}, "", RUNS.split("[bench.run.a]")[0], 'no run stands "after"; name one, [bench.run."after 1"]'),
        ({"a": LOG}, "", "[bench.run.a]" + RUNS.split("[bench.run.a]")[1], 'no run stands "before"'),
        ({"b": LOG}, "", RUNS, "a.csv"),
        ({"b": ONLY_A, "a": ONLY_B}, "", RUNS, "no channel has an end both before and after"),
        ({"b": DEAD, "a": LOG}, "", RUNS, 'run "b": has no reading in any column that could be compared'),
        ({"b": f"{HEAD}\n0,1,1,1,1,1,1\n", "a": LOG}, "", RUNS, 'run "b": holds 1 reading after switch-on'),
        ({"b": f"{HEAD}\n{rows(0.5)}\n", "a": LOG}, "", RUNS, 'run "b": is 30 s long; a minute is the least'),
        (BOTH, "", RUNS.replace('"before"', '"befor"'), "stands"),
        (BOTH, "", RUNS + 'option = "past"\n', 'there is no option "past"; did you mean "pasted"?'),
        (BOTH, "", RUNS + LATER + 'option = "pasted"\n', "runs that stand after are of several options: base, pasted"),
        (BOTH, "paired = true", RUNS + LATER, "pairs need as many runs before as after; there are 1 and 2"),
        (BOTH, 'window = "10 K"', RUNS, "window"),
        (BOTH, 'moved = ["part.c"]', RUNS, 'there is no part "c"'),
        (BOTH, 'touch = { "part.c" = {} }', RUNS, 'there is no part "c"'),
        (BOTH, 'touch = { "loop.x.flow" = {} }', RUNS, 'there is no loop "x"'),
        (BOTH, 'touch = { "supply.watts" = {} }', RUNS, "is no temperature"),
    ],
)
def test_runs_that_will_not_do(tmp_path, capsys, monkeypatch, files, settings, runs, said):
    case = tmp_path / "case.toml"
    case.write_text(CASE.replace("[bench.columns]", f"[bench]\n{settings}\n[bench.columns]") + runs, encoding="utf-8")
    for name, text in files.items():
        (tmp_path / f"{name}.csv").write_text(text, encoding="utf-8")
    status, message = refused(capsys, monkeypatch, "bench", case, "-o", tmp_path / "out", "--no-model")
    assert status == 2
    assert said in message
    assert "Traceback" not in message
    assert not (tmp_path / "out").exists()
