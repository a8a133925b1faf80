"""What a study tells does not depend on where its pieces of work were done: here, in processes, or shared out."""

import json
from concurrent.futures import Executor, ProcessPoolExecutor
from multiprocessing import get_context

import pytest
from click.testing import CliRunner

from tests.machines.boxes import BOX, FILE, STUDIES, facts_of, unclocked
from thermsim.cli import cli
from thermsim.studies import workers
from thermsim.studies.compare import Runs
from thermsim.studies.kept import Kept, whole_lines
from thermsim.studies.merge import MergeError, merge
from thermsim.studies.where import IN_THIS_PROCESS, Shard, ShareDone, Where

QUICK = [study for study in STUDIES if study != "compare"]
# pieces that rest on others' answers: states at the coldest dry inlet, the trial and its warm-up; samples settled in
# full; the variants at the winner's place, and the case without a plate
AFTERWARDS = {"chill": 3, "sweep": 2, "place": 9}


@pytest.fixture(scope="session")
def here(tmp_path_factory):
    """Facts of each study, done in this process."""
    found = {}

    def facts(study):
        if study not in found:
            found[study] = facts_of(study, tmp_path_factory.mktemp(study), IN_THIS_PROCESS)
        return found[study]

    return facts


@pytest.fixture(scope="module")
def another():
    """A process of the user's own."""
    with ProcessPoolExecutor(1, get_context("spawn")) as pool:
        yield pool


@pytest.fixture
def done(monkeypatch):
    """Functions of the pieces done in this process."""
    found, alone = [], workers.alone

    def noted(function, arguments):
        found.append(function.__name__)
        return alone(function, arguments)

    monkeypatch.setattr(workers, "alone", noted)
    return found


@pytest.mark.slow
@pytest.mark.parametrize("study", ["chill", "sweep", "place"])
def test_another_process_gives_the_same_bit_for_bit(study, here, another, tmp_path):
    assert facts_of(study, tmp_path, Where(executor=another)) == here(study)


@pytest.mark.slow
@pytest.mark.parametrize("study", QUICK)
def test_shards_and_then_the_whole_give_the_same(study, here, done, tmp_path):
    whole, every = here(study), []
    for number in (2, 1, 3):
        done.clear()
        with pytest.raises(ShareDone) as told:
            STUDIES[study](tmp_path, Where(processes=1, shard=Shard(number, 3)))
        assert not (tmp_path / f"{study}.json").exists()
        kept = sum(len(whole_lines(path)) for path in tmp_path.glob(f"*.{number}-of-3.jsonl"))
        base = study == "chill"  # settled by the first shard that needs it, for all rests on it
        assert told.value.shard.done <= kept <= told.value.shard.done + base
        every.append(told.value.shard)
    assert sum(shard.done for shard in every) == every[0].done + every[0].others
    assert max(shard.done for shard in every) - min(shard.done for shard in every) <= 1
    done.clear()
    assert facts_of(study, tmp_path, IN_THIS_PROCESS) == whole
    assert len(done) <= AFTERWARDS.get(study, 0)


@pytest.mark.slow
def test_shards_on_machines_of_their_own_are_merged(here, done, tmp_path):
    pages = ["--no-figures", "--draws", "16", "-j", "1"]
    for number in (1, 2):
        shard = ["--shard", f"{number}/2", "-o", str(tmp_path / f"{number}"), "--json"]
        told = CliRunner().invoke(cli, ["compare", str(FILE), *pages, *shard])
        assert told.exit_code == 0, told.output
        facts = json.loads(told.stdout)["shard"]
        assert (facts["number"], facts["of"], facts["there"]) == (number, 2, 0)
        assert abs(facts["done"] - facts["others"]) <= 1
    both = [str(tmp_path / "1"), str(tmp_path / "2")]
    told = CliRunner().invoke(cli, ["merge", *both, "-o", str(tmp_path / "all")])
    assert told.exit_code == 0, told.output
    assert told.output.startswith("4 results and ")
    assert merge(both, tmp_path / "all")["results"] == 0  # once more changes nothing
    done.clear()
    told = CliRunner().invoke(cli, ["compare", str(FILE), *pages, "-o", str(tmp_path / "all"), "--json"])
    assert told.exit_code == 0, told.output
    assert done == []  # all was there
    assert unclocked(json.loads(told.stdout)) == here("compare")


def test_what_does_not_go_together_is_not_merged(tmp_path):
    for name, watts in (("one", "4 W"), ("two", "5 W")):
        case = BOX.with_changes({"part.hot.watts": watts, "run.duration": "60 s"})
        Runs({"base": case}, tmp_path / name, "reduced").finish(IN_THIS_PROCESS)
    with pytest.raises(MergeError, match=r"two/base/result\.h5 and .*one/base/result\.h5 are of different cases"):
        merge([tmp_path / "one", tmp_path / "two"], tmp_path / "all")
    assert not (tmp_path / "all").exists()
    with pytest.raises(MergeError, match="there is no such folder"):
        merge([tmp_path / "three"], tmp_path / "all")
    with pytest.raises(MergeError, match=r"lies in .*one, of which it would hold a copy"):
        merge([tmp_path / "one"], tmp_path / "one" / "all")
    (tmp_path / "three").mkdir()
    with pytest.raises(MergeError, match="holds no finished result"):
        merge([tmp_path / "three"], tmp_path / "all")


def test_kept_lines_that_contradict_are_not_merged(tmp_path):
    for name, degc, seconds in (("a", 50.0, 1.0), ("b", 50.000001, 3.0), ("c", 51.0, 1.0)):
        with Kept.of(tmp_path / name, "chill") as kept:
            kept.put("key", {"degc": degc, "seconds": seconds})
    told = merge([tmp_path / "a", tmp_path / "b"], tmp_path / "all")  # rounding and time taken are no contradiction
    assert (told["pieces"], told["pieces_there"]) == (1, 0)
    with pytest.raises(MergeError, match="tell different things of the same piece"):
        merge([tmp_path / "c"], tmp_path / "all")


def test_what_is_unfinished_is_passed_over_and_said(tmp_path):
    (tmp_path / "a" / "base").mkdir(parents=True)
    (tmp_path / "a" / "base" / "result.h5").write_bytes(b"\x89HDF\r\n\x1a\n cut short")
    (tmp_path / "a" / "chill.kept.1-of-2.jsonl").write_text('{"version": "0.0.1", "key": "k", "facts": {}}\n')
    with pytest.raises(MergeError, match="nothing kept by this version"):
        merge([tmp_path / "a"], tmp_path / "all")
    with Kept.of(tmp_path / "a", "chill", Shard(2, 2)) as kept:
        kept.put("key", {})
    told = CliRunner().invoke(cli, ["merge", str(tmp_path / "a"), "-o", str(tmp_path / "all")])
    assert told.exit_code == 0
    assert "not finished: " in told.stderr
    assert told.stdout.startswith("0 results and 1 pieces")
    assert not (tmp_path / "all" / "base").exists()


def test_a_shard_without_a_share_is_no_obstacle(tmp_path):
    with Kept.of(tmp_path / "a", "chill", Shard(1, 9)) as kept:
        kept.put("key", {})
    Kept.of(tmp_path / "b", "chill", Shard(9, 9)).close()
    assert merge([tmp_path / "a", tmp_path / "b"], tmp_path / "all")["pieces"] == 1


def test_an_executor_is_left_running(another: Executor, tmp_path):
    facts_of("loop", tmp_path, Where(executor=another))
    assert another.submit(len, "ok").result() == 2
