"""The commands as a user calls them: status, words, files."""

import json
import subprocess
import sys

import pytest
from click.testing import CliRunner

from thermsim.cli import COMMANDS, cli


def call(*arguments, module="thermsim.cli"):
    """A command in a process of its own, as from a shell."""
    code = f"import sys; from {module} import main; sys.argv = ['thermsim', *sys.argv[1:]]; main()"
    return subprocess.run([sys.executable, "-c", code, *map(str, arguments)], capture_output=True, text=True)


def test_help_is_light():
    code = (
        "import sys; sys.argv = ['thermsim', '--help']\n"
        "from thermsim.cli import main\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        "heavy = {'fipy', 'scipy', 'matplotlib', 'numpy', 'pydantic', 'h5py', 'rich'} & set(sys.modules)\n"
        "assert not heavy, heavy"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert all(name in done.stdout for name in COMMANDS)


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help(name):
    result = CliRunner().invoke(cli, [name, "--help"])
    assert result.exit_code == 0
    assert "Usage" in result.output


def test_check_prints_ledger_and_estimates(small_file):
    done = call("check", small_file)
    assert done.returncode == 0, done.stderr
    assert "bench box (invented demo data): base case: nothing wrong in the file" in done.stdout
    assert "air rise in main" in done.stdout
    assert "options, nothing wrong in them: full speed; fan stops" in done.stdout


def test_check_finds_what_is_wrong_in_an_option(small_file):
    text = small_file.read_text(encoding="utf-8").replace('remove = ["governor.chip"]', 'remove = ["governor.chop"]')
    small_file.write_text(text, encoding="utf-8")
    done = call("check", small_file)
    assert done.returncode == 2
    assert 'unknown governor "chop"; did you mean "chip"?' in done.stderr
    assert "Traceback" not in done.stderr


def test_run_stores_and_prints(small_file, tmp_path):
    done = call("run", small_file, "-o", tmp_path / "out", "--no-figures")
    assert done.returncode == 0, done.stderr
    assert "all 2 must-haves met" in done.stdout
    assert "warm-up:" in done.stdout
    assert (tmp_path / "out" / "result.h5").exists()
    assert not (tmp_path / "out" / "result.h5.part").exists()


def test_run_json_is_the_summary(small_file, tmp_path):
    done = call("run", small_file, "-o", tmp_path / "out", "--no-figures", "--json")
    assert json.loads(done.stdout) == json.loads((tmp_path / "out" / "summary.json").read_text(encoding="utf-8"))


def test_base_names_the_case_itself(small_file, tmp_path):
    done = call("run", small_file, "-p", "base", "-o", tmp_path / "out", "--no-figures")
    assert done.returncode == 0, done.stderr
    assert "base case;" in done.stdout


def test_a_misspelt_key_points_to_the_reference(small_file):
    small_file.write_text(small_file.read_text(encoding="utf-8").replace("to_board", "to_bord"), encoding="utf-8")
    done = call("check", small_file)
    assert done.returncode == 2
    assert 'unknown key; did you mean "to_board"?' in done.stderr
    assert done.stderr.endswith("(what each key means: thermsim keys part)\n")


def test_a_failed_must_have_exits_with_1(small_file, tmp_path):
    done = call("run", small_file, "--option", "full speed", "-o", tmp_path / "out", "--no-figures")
    assert done.returncode == 1
    assert "MUST-HAVE NOT MET: quiet: 25.2 dB(A), at most 24" in done.stdout


def test_compare_sets_options_side_by_side_and_keeps_what_is_finished(small_file, tmp_path):
    out = tmp_path / "out"
    done = call("compare", small_file, "-o", out, "--no-figures")
    assert done.returncode == 0, done.stderr
    assert "meet every must-have: base" in done.stdout
    assert "fan stops: fails chip limit; chip first, " in done.stdout
    told = json.loads((out / "compare.json").read_text(encoding="utf-8"))
    assert set(told["options"]) == {"base", "full speed", "fan stops"}
    assert told["answer"][0].startswith("Take “base”")
    before = (out / "base" / "result.h5").stat().st_mtime_ns
    again = call("compare", small_file, "-o", out, "--no-figures")
    assert again.stdout == done.stdout
    assert (out / "base" / "result.h5").stat().st_mtime_ns == before


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["run", "nowhere.toml"], "nowhere.toml: no such file"),
        (["rum", "x"], 'did you mean "run"?'),
        (["plot", "nowhere"], "there is no result here"),
        (["run"], "Missing argument 'CASE'"),
    ],
)
def test_mistakes_get_one_message_and_status_2(arguments, words, tmp_path):
    done = call(*arguments)
    assert done.returncode == 2
    assert words in done.stderr
    assert "Traceback" not in done.stderr


def test_an_unknown_option_is_a_plain_message(small_file):
    done = call("run", small_file, "--option", "full sped")
    assert done.returncode == 2
    assert 'did you mean "full speed"?' in done.stderr


def test_a_box_without_a_way_out_for_its_heat_gives_up_with_3(tmp_path):
    path = tmp_path / "sealed.toml"
    path.write_text(
        '[case]\ntitle = "sealed"\n[room]\ntemperature = "20 degC"\n'
        '[sheet.a]\ncorner = "0, 0 mm"\nsize = "50 x 50 mm"\nthickness = "1 mm"\nmaterial = "copper"\n'
        '[part.p]\non = "sheet.a"\ncentre = "25, 25 mm"\nsize = "10 x 10 mm"\nwatts = "1 W"\n'
        'to_board = "1 K/W"\nheat_capacity = "1 J/K"\n',
        encoding="utf-8",
    )
    done = call("run", path, "-o", tmp_path / "out")
    assert done.returncode == 3
    assert "the heat of sheet.a has no path to the room" in done.stderr
