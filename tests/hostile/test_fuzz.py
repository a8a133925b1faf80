"""A short, repeatable run of the fuzzer, and inputs that once broke something. Long: `python -m tests.hostile.fuzz`.

What is allowed is the program's own contract: done, or one clear message with exit status 2, or 3 from the solver; no
traceback, no hang, nothing written outside the output folder.
"""

from __future__ import annotations

import json
import os
import re
import shutil
from pathlib import Path
from random import Random
from typing import Any

import numpy as np
import pytest

from tests.hostile import cases, logs, results
from tests.hostile.calls import call
from tests.hostile.inputs import Inputs
from tests.hostile.small_case import SMALL
from thermsim.case import CaseError
from thermsim.case.reading import read_text
from thermsim.store.result import ResultError, read_result

SHORT = {"case": 20, "log": 36, "result": 8, "kept": 6}  # inputs


@pytest.fixture(scope="module")
def inputs(tmp_path_factory: pytest.TempPathFactory) -> Inputs:
    return Inputs(tmp_path_factory.mktemp("hostile") / "inputs")


@pytest.mark.slow
@pytest.mark.parametrize("kind", SHORT)
def test_nothing_but_success_or_one_message(inputs: Inputs, kind: str) -> None:
    """The first inputs of the script's `--seed 1`: `--kind … --only NUMBER` makes one of them again."""
    found = {}
    for number in range(SHORT[kind]):
        outcome = inputs.called(kind, Random(f"{kind} 1 {number}"))
        if outcome.fault:
            found[number] = f"{outcome.fault}\n{outcome.told[-1500:]}"
    assert found == {}


def test_a_traceback_a_hang_and_a_stray_file_would_be_seen(
    inputs: Inputs, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The watch itself: three faults are put into the program, each is named."""
    path = tmp_path / "case.toml"
    path.write_text(SMALL)

    def with_fault(fault) -> str | None:
        with monkeypatch.context() as patch:
            patch.setattr("thermsim.commands.check.check_all_options", fault)
            return call(["check", str(path)], tmp_path / "out", work=0.5).fault

    def spin(case):
        while True:
            pass

    def stray(case):
        (tmp_path / "stray").write_text("x")
        return []

    assert with_fault(lambda case: 1 / 0).startswith("ZeroDivisionError at")
    assert with_fault(spin).startswith("hung: check at")
    assert with_fault(stray) == f"wrote outside: {tmp_path / 'stray'}"
    assert with_fault(lambda case: []) is None


@pytest.mark.slow
def test_an_answer_from_a_changed_line_would_be_seen(inputs: Inputs, monkeypatch: pytest.MonkeyPatch) -> None:
    """The comparison of answers itself: lines are read without a look at their digest, and one tells another load."""
    studies = inputs.studies
    shutil.rmtree(inputs.out)
    lines = studies.begin() / "pipes.kept.jsonl"
    lines.write_text(re.sub(r'"load": [\d.e-]+', '"load": 123.25', lines.read_text()))
    assert studies.called_again("pipes", lines.name, shown_first=True).fault is None
    lines.write_text(re.sub(r'"load": [\d.e-]+', '"load": 123.25', lines.read_text()))

    def believed(path: Path) -> dict[str, Any]:
        return {told["key"]: told["facts"] for told in map(json.loads, path.read_text().splitlines())}

    monkeypatch.setattr("thermsim.studies.kept.whole_lines", believed)
    fault = studies.called_again("pipes", lines.name, shown_first=False).fault
    assert str(fault).startswith("another answer: pipes after pipes.kept.jsonl")


CORPUS = {  # case files that once ended in a traceback, ran on and on, or took all memory
    "whole number of 400 digits": ("x = " + "9" * 400, "too large a whole number"),
    "whole number of 5000 digits": ("x = " + "9" * 5000, "a number of thousands of digits"),
    "hexadecimal of 5000 digits": ("x = 0x" + "f" * 5000, "too large a whole number"),
    "key of 30,000 pieces": ("[" + ".".join(["a"] * 30_000) + "]", "nested too deeply"),
    "key of 30,000 pieces in a table": ("x = {" + ".".join(["a"] * 30_000) + " = 1}", "nested too deeply"),
    "list in list": ("x = " + "[" * 5000 + "]" * 5000, "nested too deeply"),
    "options in a circle": (
        "".join(f'[option.o{k}]\nbase = "o{(k + 1) % 1900}"\n' for k in range(1900)), "1,903 options; 500 are the most",
    ),
    "30,000 wrong parts": ("".join(f"[part.p{k}]\nwats = 1\n" for k in range(30_000)),
    "30,002 keys; 2,000 are the most"),
    "1500 wrong parts": ("".join(f"[part.p{k}]\nwats = 1\n" for k in range(1500)), "and 2,970 more of this kind"),
    "name in angle brackets": ('[part.fpga.watts]\n"<one>" = 1\n', "given twice"),
    "key in angle brackets": ('["<img src=x>"]\na = 1\n', "unknown table"),
    "option that adds a number": (
        '[option.odd]\nadd = { loop = 3, airway = 3 }\n[mishap.odd]\nat = "1 min"\nstops = "pump.none"\n'
        '[chill]\nairway = "none"\n', 'there is no pump "none"',
    ),
    "too large to be meant": ('[hose.long]\nlength = "1e300 m"\nbore = "6 mm"\n', "too large to be meant"),
    "too small to be meant": ('[hose.thin]\nlength = "1 m"\nbore = "1e-300 mm"\n', "too small to be meant"),
}  # fmt: skip


@pytest.mark.parametrize(("more", "message"), CORPUS.values(), ids=CORPUS)
def test_case_files_that_once_broke_something(tmp_path: Path, more: str, message: str) -> None:
    path = tmp_path / "case.toml"
    path.write_text(SMALL + "\n" + more + "\n")
    outcome = call(["check", str(path)], tmp_path / "out")
    assert (outcome.ended, outcome.fault) == ("refused", None)
    assert message in outcome.told
    assert len(outcome.told) < 10_000


@pytest.mark.parametrize("key", ["[{}]", "{} = 1", "x = {{ {} = 1 }}", '["a".{}]'])
def test_keys_of_many_pieces_never_reach_the_reader(monkeypatch: pytest.MonkeyPatch, key: str) -> None:
    """Python's reader takes memory by the square of their number."""
    monkeypatch.setattr("thermsim.case.reading.tomllib.loads", None)
    with pytest.raises(CaseError, match="nested too deeply"):
        read_text("x = 1\n" + key.format(".".join(["a"] * 40)), "case.toml")


def test_dry_air_and_damp_air_out_of_range(tmp_path: Path) -> None:
    """A dew point below -100 °C is told as that; air at 300 °C has none here (range of the ASHRAE equations)."""
    path = tmp_path / "case.toml"
    path.write_text(SMALL.replace("45 %", "0.000045 %"))
    assert call(["run", str(path), "--no-figures", "-o", str(tmp_path / "out")], tmp_path / "out", 40).fault is None
    path.write_text(SMALL.replace('temperature = "22 degC"', 'temperature = "300 degC"'))
    told = call(["check", str(path)], tmp_path / "out").told
    assert "room.humidity: moist air is known from -100 to 200 °C" in told


def test_what_no_box_can_reach_ends_a_run(tmp_path: Path) -> None:
    path = tmp_path / "case.toml"
    path.write_text(SMALL.replace('"8 W"', '"300000 W"').replace('[duty.day]', '[duty.day]\nrepeat = "20 min"').replace(
        'repeat = "5 min"\n', "", 1))  # fmt: skip
    outcome = call(["run", str(path), "--no-figures", "-o", str(tmp_path / "out")], tmp_path / "out", 40)
    assert (outcome.ended, outcome.fault) == ("gave up", None)


@pytest.fixture
def waiting(tmp_path: Path) -> Path:
    os.mkfifo(tmp_path / "fifo")
    return tmp_path / "fifo"


@pytest.mark.parametrize("special", ["fifo", "/dev/zero", "/dev/full", "/proc/kmsg", "."])
def test_special_files_are_refused_at_once(tmp_path: Path, waiting: Path, special: str) -> None:
    """As a case, as a log that a case names, as a result; nobody writes to the pipe, and /dev/zero never ends."""
    where = str(tmp_path / special)
    case = tmp_path / "case.toml"
    case.write_text(logs.CASE.replace('"leak.csv"', f'"{special}"').replace('"after.csv"', f'"{special}"'))
    (tmp_path / "before.csv").write_text(logs.text_of(logs.sound_log(Random(0))))
    out = tmp_path / "out"
    calls = [["leak", str(case), "-o", str(out)], ["bench", str(case), "--no-model", "-o", str(out)], ["plot", where]]
    for arguments in calls if special == "." else [*calls, ["check", where]]:
        outcome = call(arguments, out)
        assert (outcome.ended, outcome.fault) == ("refused", None), arguments


LINKS = {
    "link to another file": lambda file, secret: _put(file, "sheets/board/temperature", lambda g, k: g.__setitem__(
        k, results.h5py.ExternalLink(str(secret), "/temperature"))),
    "link to nowhere": lambda file, secret: _put(file, "parts/fpga", lambda g, k: g.__setitem__(
        k, results.h5py.SoftLink("/nothing"))),
    "data kept in another file": lambda file, secret: _put(file, "parts/fpga", lambda g, k: g.create_dataset(
        k, shape=(3,), dtype="u1", external=[("/etc/passwd", 0, results.h5py.h5f.UNLIMITED)])),
}  # fmt: skip


def _put(file, name, make) -> None:
    group, key = file[name].parent, name.rsplit("/", 1)[-1]
    del file[name]
    make(group, key)


@pytest.mark.parametrize("change", LINKS.values(), ids=LINKS)
def test_a_result_leads_nowhere_else(inputs: Inputs, tmp_path: Path, change) -> None:
    path = tmp_path / "result.h5"
    path.write_bytes(inputs.sound.read_bytes())
    assert read_result(path).complete
    with results.h5py.File(path, "r+") as file:
        change(file, inputs.secret)
    with pytest.raises(ResultError, match=r"is a link|in other files"):
        read_result(path)


def test_far_too_many_groups_are_damage_and_no_link(inputs: Inputs, tmp_path: Path, monkeypatch) -> None:
    path = tmp_path / "result.h5"
    path.write_bytes(inputs.sound.read_bytes())
    monkeypatch.setattr("thermsim.store.sound.MOST_NAMES", 20)
    with pytest.raises(ResultError, match=r"a damaged result \(it holds more than 20 groups and data sets\)"):
        read_result(path)


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("parts/time", np.nan, "times of /parts do not rise"),
        ("sheets/board/temperature", np.nan, "holds no temperatures"),
        ("sheets/board/temperature", 1e9, "holds what is no temperature"),
        ("parts/fpga", 1e300, "numbers beyond"),
    ],
)
def test_numbers_that_no_run_gives_are_damage(inputs: Inputs, tmp_path: Path, name, value, words) -> None:
    path = tmp_path / "result.h5"
    path.write_bytes(inputs.sound.read_bytes())
    with results.h5py.File(path, "r+") as file:
        file[name][...] = value
    with pytest.raises(ResultError, match=words):
        read_result(path)


def test_a_field_without_a_frame(inputs: Inputs, tmp_path: Path) -> None:
    """Damage in a whole result; in one that was cut before its first frame there is no map to draw."""
    path = tmp_path / "result.h5"
    path.write_bytes(inputs.sound.read_bytes())
    with results.h5py.File(path, "r+") as file:
        for group in (*file["sheets"].values(), *file.get("plates", {}).values()):
            group["time"].resize(0, axis=0)
    with pytest.raises(ResultError, match="has no frame"):
        read_result(path)
    with results.h5py.File(path, "r+") as file:
        file.attrs["complete"] = 0
    assert read_result(path).fields == {}
    outcome = call(["plot", str(path), "-o", str(tmp_path / "out")], tmp_path / "out", 40)
    assert (outcome.ended, outcome.fault) == ("done", None)


def test_a_ledger_without_what_was_supplied_is_damage(inputs: Inputs, tmp_path: Path) -> None:
    path = tmp_path / "result.h5"
    path.write_bytes(inputs.sound.read_bytes())
    with results.h5py.File(path, "r+") as file:
        del file["ledger/supplied"]
    outcome = call(["plot", str(path), "-o", str(tmp_path / "out")], tmp_path / "out")
    assert (outcome.ended, outcome.fault) == ("refused", None)
    assert "does not tell what was supplied" in outcome.told


def test_a_summary_changed_by_hand_is_not_taken_for_finished(inputs: Inputs, tmp_path: Path) -> None:
    from thermsim.store.result import read_stamp

    path = tmp_path / "result.h5"
    path.write_bytes(inputs.sound.read_bytes())
    assert read_stamp(path) is not None
    with results.h5py.File(path, "r+") as file:
        file.attrs["summary"] = file.attrs["summary"].replace('"fpga"', '"fpga "')
    assert read_stamp(path) is None


def test_an_input_is_made_again_from_its_number() -> None:
    for make in (cases.hostile_case, lambda random: logs.hostile_log(random, False)):
        for number in range(8):
            assert make(Random(number)) == make(Random(number))
