"""`thermsim leak` and `thermsim bench --protocol` as a user calls them."""

import json

import pytest

from tests.bench.leak_cases import write_log
from tests.tool.test_commands import call

FLAGS = ("--volume", "150 mL", "--volume-uncertainty", "5 mL", "--resolution", "10 Pa", "--limit", "0.05 sccm")
READ = ("--first", "150.2 kPa, 23.0 degC", "--last", "149.9 kPa, 22.6 degC", "--after", "30 min")


def test_flags_alone_are_enough():
    done = call("leak", *FLAGS, *READ)
    assert done.returncode == 0, done.stderr
    assert done.stdout.index("caution: Compressed air") < done.stdout.index("• Holds: it loses 0.0044 ± 0.0038 sccm")
    assert "cooling explains 203 Pa, which leaves 97 ± 84 Pa" in done.stdout


def test_json(tmp_path):
    done = call("leak", *FLAGS, *READ, *READ, "--json")
    facts = json.loads(done.stdout)
    assert [test["name"] for test in facts["tests"]] == ["test 1", "test 2"]
    assert facts["together"]["course"] == "agree"


def test_a_log_by_flags(tmp_path):
    log = write_log(tmp_path / "a.csv", sccm=0.02)
    done = call("leak", *FLAGS, "--log", log, "--soak", "5 min")
    assert done.returncode == 0, done.stderr
    assert "the first 5 min were left out" in done.stdout


def test_the_worked_example(tmp_path):
    done = call("leak", "cases/digitiser", "-o", tmp_path)
    assert done.returncode == 0, done.stderr
    facts = json.loads((tmp_path / "leak.json").read_text(encoding="utf-8"))
    assert facts["verdict"] == "holds"
    # planted: 0.02 cm³ a minute
    assert facts["together"]["low_sccm"] < 0.02 < facts["together"]["high_sccm"]
    assert (tmp_path / "leak.png").exists()
    assert (tmp_path / "leak.svg").exists()


def test_the_volume_of_the_loop_is_offered_never_taken(tmp_path):
    done = call("leak", "cases/organ", "-o", tmp_path, *READ, "--resolution", "10 Pa", "--set", "run.cell=10 mm")
    assert done.returncode == 2
    assert "leak.volume: missing" in done.stderr
    assert not (tmp_path / "leak.json").exists()


@pytest.mark.parametrize(
    ("flags", "message"),
    [
        ((*FLAGS, "--first", "150 kPa, 20 degC"), "got 1 first, 0 last, 0 after"),
        ((*FLAGS, *READ, "--gauge"), "leak.atmosphere: missing"),
        ((*FLAGS, "--log", "nowhere.csv"), "no such file"),
        ((*FLAGS, *READ, "--column", "p"), "--column p: expected HEADER=CHANNEL"),
        ((*FLAGS, *READ, "--limit", "5"), "leak.limit: needs a unit"),
        (READ, "leak.volume_uncertainty: missing"),
        (("cases/nowhere", *READ), "nowhere"),
    ],
)
def test_wrong_flags(flags, message):
    done = call("leak", *flags)
    assert done.returncode == 2
    assert message in done.stderr
    assert "Traceback" not in done.stderr


def test_protocol_is_printed():
    done = call("bench", "cases/digitiser", "--protocol", "--resolve", "1 K")
    assert done.returncode == 0, done.stderr
    assert "WHAT TO LOG" in done.stdout
    assert "not shuffled: going back is a rebuild" in done.stdout
    cheap = call("bench", "cases/digitiser", "--protocol", "-p", "better paste")
    assert "runs each of “base” and “better paste”" in cheap.stdout
    assert "\nshuffled with seed 1" in cheap.stdout
