"""Matching a small box to invented logs: planted values found, errors as large as stated, what cannot be told said.

The box and its logs are invented (fit_box): the truth is what was planted, not a measurement.
"""

import json
import stat
import tomllib
from dataclasses import replace

import numpy as np
import pytest
from fit_box import CHANNELS, FILMS, PAD, RUNS, fit_box, planted_runs

from thermsim.bench.fit.answer import _held
from thermsim.bench.fit.data import HeldOut, held_out, run_data
from thermsim.bench.fit.held_out import _is_chance
from thermsim.bench.fit.matching import Matching
from thermsim.bench.fit.nuisance import shifts_of
from thermsim.bench.fit.study import fit
from thermsim.bench.fit.trials import Trials
from thermsim.bench.fit.unknowns import unknowns_of
from thermsim.bench.fit.weighing import FORM, PACE, SEAT
from thermsim.bench.fit.worth import Worth
from thermsim.bench.fit.written import BEGIN, END, check_names, rounded, with_block, write_into
from thermsim.case import Case
from thermsim.case.errors import CaseError
from thermsim.physics.ranges import collect_ranges
from thermsim.report.fit_text import fit_text
from thermsim.studies.sweep.sampling import uncertain_inputs

TWO = {"before 1": None, "after 1": "finned"}


@pytest.fixture(scope="module")
def box():
    return fit_box()


@pytest.fixture(scope="module")
def found(box, tmp_path_factory):
    folder = tmp_path_factory.mktemp("fit")
    return fit(box, folder, planted_runs(box)), folder


def named(facts, name):
    return next(one for one in facts["unknowns"] if one["name"] == name)


def test_what_was_planted_is_found(found):
    facts, _ = found
    films, pad = named(facts, "films"), named(facts, "pad")
    assert films["factor"] == pytest.approx(FILMS, rel=0.03)
    assert pad["value"] == pytest.approx(PAD, rel=0.1)
    for one, true in ((films, FILMS * 15), (pad, PAD)):
        assert one["low_95"] < true < one["high_95"]
        assert one["left_of_prior"] < 0.5
    assert pad["surprising"]  # 3.4 standard deviations from what the case believed
    assert facts["rms_after_k"] < 0.3 < facts["rms_before_k"]
    assert "pad is 2." in facts["answer"][0]


def test_what_was_held_out_lies_within_its_stated_uncertainty(found):
    facts, _ = found
    held = facts["held_out"]
    assert held["run"] == "before 2"
    assert held["why"][0] == "before 2: the last run of the option that has most"
    assert held["probe"] not in (None, "part.chip")  # that one tells the pad
    assert held["of_run"]["inside"]
    assert held["of_probe"]["inside"]
    assert held["rms_after"] < 0.3 * held["rms_before"]
    seen = {one["channel"] for one in facts["channels"]}
    assert held["probe"] not in seen
    assert all("before 2" not in one["runs"] for one in facts["channels"])
    for one in held["series"]:
        assert one["u"] == pytest.approx(np.sqrt(sum(part**2 for part in one["budget"].values())))


def test_the_matched_options_run_and_draw_what_is_left_unsure(box, found):
    facts, folder = found
    text = (folder / "fitted.toml").read_text()
    options = tomllib.loads(text)["option"]
    assert set(options) == {"fitted", "finned, fitted"} == set(facts["fitted_options"])
    assert json.loads((folder / "fit.json").read_text())["toml"] == text
    tables = box._source.raw | {"option": box._source.raw["option"] | options}
    case = Case.from_dict(tables).with_option("finned, fitted")
    assert case.spec.joint["pad"].resistance == pytest.approx(named(facts, "pad")["value"], rel=1e-3)
    pad = next(one for one in uncertain_inputs(case) if one.name == "pad")
    low, high = pad.distribution.ppf(np.array([0.025, 0.975]))
    stated = 1.96 * named(facts, "pad")["relative_error"]
    assert np.log(high / low) / 2 == pytest.approx(stated, rel=0.2)
    before = next(one for one in uncertain_inputs(box.with_option("finned")) if one.name == "pad")
    assert pad.spread.high < before.spread.high


def test_the_text_begins_with_the_answer(found):
    facts, _ = found
    lines = fit_text(facts, 100).splitlines()
    assert lines[0] == "fit box (invented demo data): the model matched to the bench"
    assert lines[1].startswith("• Matched to 3 runs:")
    assert max(map(len, lines)) < 180


class Surrogate(Trials):
    """The model as a quadratic of the two unknowns through nine of its histories, so that many fits are quick."""

    def learn(self):
        self.marks = [np.log([0.7, 0.9, 1.1]), np.log([1.5, 2.2, 3.2])]
        self.grid = {run.name: {(a, b): super(Surrogate, self).of_run(run, np.array([a, b]))
                                for a in self.marks[0] for b in self.marks[1]} for run in self.runs}  # fmt: skip
        return self

    def of_run(self, run, x, driven=None):
        if driven is not None:
            return super().of_run(run, x, driven)
        weights = [[np.prod([(v - m) / (mark - m) for m in marks if m != mark]) for mark in marks]
                   for v, marks in zip(x, self.marks, strict=True)]  # fmt: skip
        known = self.grid[run.name]
        return {
            channel: sum(
                weights[0][i] * weights[1][j] * known[a, b][channel]
                for i, a in enumerate(self.marks[0]) for j, b in enumerate(self.marks[1])
            )
            for channel in run.readings
        }  # fmt: skip


def test_intervals_cover_the_truth_as_often_as_stated(box):
    runs = planted_runs(box, TWO, noise=0.0, calibration=0.0)
    data, held = run_data(box, runs), HeldOut(None, None, ())
    unknowns = unknowns_of(box, {run.option: box.with_option(run.option) for run in data}, False)
    with collect_ranges():
        known = Surrogate(data, None, unknowns).learn()
        plain = Matching(known, held, box.spec.bench)
        truth = np.log([FILMS, PAD])
        clean, shifts = known.told(truth), plain.shifts
    rng, hits, repeats = np.random.default_rng(4), np.zeros(2), 60
    for _ in range(repeats):
        noisy = [with_errors(plain.weighing, run, clean[run.name], rng, shifts) for run in data]
        offset = {channel: 0.3 * rng.standard_normal() for channel in CHANNELS}
        trials = Surrogate([moved(run, offset) for run in noisy], None, unknowns)
        trials.marks, trials.grid = known.marks, known.grid
        trial = Matching(trials, held, box.spec.bench)
        trial.__dict__["shifts"] = shifts
        worth = Worth(trial, trial.solve())
        hits += np.abs(worth.matched.x - truth) < 1.96 * worth.standard
    assert (hits / repeats >= 0.88).all(), hits  # binomial: fewer than 53 of 60 in 1 % of cases
    assert hits.sum() < 2 * repeats  # stated no wider than need be


def with_errors(weighing, run, clean, rng, shifts):
    """The run as it would be read: noise, each probe's form, seat and pace, and what shifts the run as a whole."""
    readings = {}
    moves = [rng.standard_normal() for _ in shifts]
    for channel, values in clean.items():
        series = weighing.series[channel]
        k = series.options.index(run.option)
        off = FORM * rng.standard_normal() + SEAT * rng.standard_normal()
        error = off * series.rises[k] + PACE * rng.standard_normal() * series.paces[k]
        for move, shift in zip(moves, shifts, strict=True):
            if run.name in shift.answers:
                error = error + move * shift.answers[run.name][channel]
        readings[channel] = values + error + 0.05 * rng.standard_normal(values.size)
    return replace(run, readings=readings)


def moved(run, offset):
    readings = {channel: values + offset[channel] for channel, values in run.readings.items()}
    return replace(run, readings=readings)


def test_a_joint_in_series_with_another_is_not_told_apart(tmp_path):
    case = fit_box(fit={"unknowns": ["pad", "fins"], "hold_out": {"run": "none", "probe": "none"}})
    facts = fit(case, tmp_path, planted_runs(case, TWO))
    (group,) = facts["degenerate"]
    assert set(group["names"]) == {"pad", "fins"}
    assert group["correlation"] < -0.95
    pad, fins = group["moves"]["pad"], group["moves"]["fins"]
    assert (pad > 1) != (fins > 1)  # one goes up as the other comes down
    told = " ".join(facts["answer"])
    assert "do not tell" in told
    assert "one more probe between them" in told
    assert "Nothing was held out" in told


def test_a_bound_that_is_hit_is_named(tmp_path):
    bound = {"pad": {"high": "1.2 K/W"}}
    case = fit_box(fit={"unknowns": ["pad"], "bound": bound, "hold_out": {"run": "none", "probe": "none"}})
    facts = fit(case, tmp_path, planted_runs(case, {"after 1": "finned"}))
    (pad,) = facts["unknowns"]
    assert pad["bound_hit"] == "high"
    assert pad["value"] == pytest.approx(1.2, rel=1e-3)
    assert "pad rests on its high bound, 1.2 K/W" in " ".join(facts["answer"])


def test_a_probe_that_fell_off_is_named_and_a_wrong_model_distrusted(tmp_path):
    case = fit_box(fit={"unknowns": ["films"], "hold_out": {"run": "none", "probe": "part.memory"}})
    runs = planted_runs(case, {"before 1": None})
    log = runs[0].log
    log.readings["part.lamp"] = log.readings["part.lamp"] - 6.0
    log.readings["part.memory"] = 20 + 0.5 * (log.readings["part.memory"] - 20)
    facts = fit(case, tmp_path, runs)
    assert any(text.startswith("lamp is +") and "sits where the case says" in text for text in facts["warnings"])
    assert facts["held_out"]["of_probe"]["inside"] is False
    assert any(text.startswith("DISTRUST IT") for text in facts["answer"])


def test_a_way_for_heat_that_the_model_lacks_is_told_though_the_logs_are_matched(tmp_path):
    settings = {"unknowns": ["films"], "hold_out": {"run": "none", "probe": "none"}}
    case = fit_box(fit=settings, bench=fit_box()._source.raw["bench"] | {"calibration": "0.1 K"})
    lost = {"on": "sheet.board", "to": "room", "law": "fixed", "h": "60 W/m2K", "face": "bottom"}
    truth = fit_box(film=case._source.raw["film"] | {"lost": lost})
    facts = fit(case, tmp_path, planted_runs(truth, {"before 1": None}, calibration=0.1))
    assert facts["rms_after_k"] > 2 * facts["rms_explained_k"]
    told = " ".join(facts["answer"])
    assert "DISTRUST IT: the model now reads" in told
    assert "something that is not matched is wrong or missing" in told
    assert "write none of them into the case" in told
    assert '"--write"' not in told


def series(held_as, z):
    return {"held_as": held_as, "error": z, "u": 1.0, "inside": abs(z) <= 1.96}


def test_series_of_one_probe_are_one_chance():
    # of a normal law 0.7 % lie beyond 2.7; of six independent runs' series one in 24 trials has one that far
    assert not _is_chance([series("probe", 2.7)] * 3)
    assert _is_chance([series("run", z) for z in (2.7, 0.1, -0.3, 0.5, -0.6, 1.0)])
    assert not _is_chance([series("run", z) for z in (2.1, 2.1, -2.2, 2.0, -0.6, 1.0)])


def test_one_outside_by_chance_is_not_called_inside():
    worst = series("run", 2.3) | {"channel": "part.lamp", "run": "a"}
    one = {"name": "a", "count": 9, "outside": 1, "inside": True, "worst": worst}
    assert "outside the ±1.96 K (95 %) stated (1 of 9 series), though no farther than chance" in _held(one, "The run")
    near = one | {"worst": worst | series("run", 1.3), "outside": 0}
    assert _held(near, "The run").endswith("inside the ±1.96 K (95 %) stated.")


def test_what_was_mended_in_a_log_is_no_warning(box, tmp_path):
    runs = planted_runs(box, TWO)
    mended = [replace(run, log=replace(run.log, mended=("1 row given twice: dropped",))) for run in runs]
    case = fit_box(fit={"unknowns": ["films"], "hold_out": {"run": "none", "probe": "none"}})
    facts = fit(case, tmp_path, mended)
    assert not any("dropped" in text for text in facts["warnings"])
    assert "mended: before 1: 1 row given twice: dropped" in fit_text(facts, 100)


def test_runs_driven_alike_share_how_their_readings_answer(box):
    data = run_data(box, planted_runs(box))
    before, again, after = data[:3]
    assert again.is_like(before)
    assert not after.is_like(before)  # another option
    for channel, values in (("room", before.log.readings["room"] + 3.0), ("part.chip.watts", np.full(91, 3.0))):
        log = replace(before.log, readings=before.log.readings | {channel: values})
        assert not replace(before, log=log).is_like(before)
    unknowns = unknowns_of(box, {run.option: box.with_option(run.option) for run in data}, False)
    x = np.array([0.1, 0.3])
    with collect_ranges():
        shared = Trials(data, None, unknowns).slopes(x)[again.name]
        trials = Trials([again], None, unknowns)
        alone = trials.slopes(x)[again.name]
        aside = np.array([0.04, 0.0])
        more, less = (trials.of_run(again, x + way * aside) for way in (1, -1))
    for channel, slopes in alone.items():
        central = (more[channel] - less[channel]) / (2 * aside[0])
        assert slopes[:, 0] == pytest.approx(central, abs=0.05 * np.abs(central).max())
        assert shared[channel] == pytest.approx(slopes, abs=0.02 * np.abs(slopes).max())


@pytest.mark.parametrize("name", ["before 1", "before 2"])  # one of them tells for both
def test_a_run_started_or_standing_warmer_reads_so(name):
    box = fit_box(fit={"unknowns": ["films"]})
    data = run_data(box, planted_runs(box, {"before 1": None, "before 2": None}))
    with collect_ranges():
        trials = Trials(data, None, unknowns_of(box, {None: box}, False))
        shifts = {one.name: one for one in shifts_of(trials, calibration=0.3)}
    start, room, probe, rises = (
        shifts[of] for of in (f"start of {name}", f"room of {name}", "probe of room", "rises of base")
    )
    for channel in ("part.chip", "probe.corner"):
        at_start = start.answers[name][channel] / start.standard  # forgotten as the box warms
        assert at_start[0] > 0.9 > 0.2 > abs(at_start[-1])
        in_room = room.answers[name][channel] / room.standard  # of a warmer room all is warmer in the end
        assert in_room[0] < 0.1
        assert in_room[-1] == pytest.approx(1 - at_start[-1], abs=0.02)  # start and room together: all by as much
        assert probe.answers[name][channel] == pytest.approx(0.3 * in_room, abs=1e-6)
        told = trials.at_rest[name][channel]
        assert rises.answers[name][channel] == pytest.approx(0.01 * (told - told[0]))


REFUSED = [
    ({"unknowns": ["fims"]}, 'fit.unknowns[1]: there is no [uncertain."fims"]; did you mean "films"?'),
    ({"unknowns": ["joint.pat.resistance"]}, 'fit.unknowns[1]: there is no joint "pat"'),
    ({"unknowns": ["films"], "bound": {"pad": {"low": "1 K/W"}}}, "fit.bound.pad: is none of the unknowns"),
    ({"unknowns": ["pad"], "bound": {"pad": {}}}, "fit.bound.pad: give low or high"),
    ({"hold_out": {"run": "before 9"}}, 'fit.hold_out.run: there is no run "before 9"; did you mean "before'),
    ({"hold_out": {"probe": "part.chop"}}, 'fit.hold_out.probe: there is no part "chop"; did you mean "part.chip"?'),
    ({"hold_out": {"probe": "supply.watts"}}, "fit.hold_out.probe: is no temperature"),
]


@pytest.mark.parametrize(("table", "message"), REFUSED)
def test_a_case_that_asks_for_what_cannot_be_is_refused(table, message):
    with pytest.raises(CaseError) as error:
        fit_box(fit=table)
    assert message in str(error.value)


def unknowns(table):
    case = fit_box(fit=table)
    return unknowns_of(case, {None: case, "finned": case.with_option("finned")}, False)


LATER = [
    ({"unknowns": ["heat"]}, '"heat" moves watts, which a wattmeter knows better than a fit'),
    ({"unknowns": ["pad"], "bound": {"pad": {"low": "3 K/W", "high": "2 K/W"}}}, "low must be below high"),
    ({"unknowns": ["pad"], "bound": {"pad": {"low": "3 W"}}}, "fit.bound.pad.low: "),
    ({"unknowns": ["films"], "bound": {"films": {"low": "-5 %"}}}, "must be above zero"),
    ({"unknowns": ["feet"], "bound": {"feet": {"low": "1 K"}}}, "fit.bound.feet.low: "),
]


@pytest.mark.parametrize(("table", "message"), LATER)
def test_what_the_options_show_is_refused_before_anything_runs(table, message):
    with pytest.raises(CaseError) as error:
        unknowns(table)
    assert message in str(error.value)


def test_watts_are_matched_where_asked_for():
    assert [one.name for one in unknowns({"unknowns": ["heat"], "also_watts": True})] == ["heat"]
    (chip,) = unknowns({"unknowns": ["part.chip.watts"]})  # spelt out: asked for
    assert chip.is_watts
    assert chip.prior == pytest.approx(0.05)  # of the table that speaks of it: 10 % are two standard deviations


def test_by_default_joints_films_and_losses_are_matched():
    assert [one.name for one in unknowns({})] == ["films", "feet", "pad", "fins"]


def test_priors_are_those_of_the_laws():
    films, pad = (unknowns({"unknowns": [name]})[0] for name in ("films", "pad"))
    assert (films.prior, films.middle) == (pytest.approx(0.15), 0.0)
    assert pad.prior == pytest.approx(np.log(1.6) / 2)
    assert pad.changes(None, 0.1) == {}
    assert pad.changes("finned", np.log(2.0)) == {"joint.pad.resistance": "2 K/W"}


def test_holding_out_everything_is_refused(box):
    case = fit_box(fit={"unknowns": ["films"], "hold_out": {"run": "before 1"}})
    data = run_data(case, planted_runs(case, {"before 1": None}))
    with pytest.raises(CaseError, match="leaves no run to match"):
        held_out(case, data, [])
    alone = fit_box(fit={"unknowns": ["films"]})
    assert held_out(alone, data, []).run is None


def test_runs_without_a_channel_of_the_model_are_refused(box):
    runs = planted_runs(box, {"before 1": None})
    runs[0].log.readings.clear()
    with pytest.raises(CaseError, match="has no channel that the model tells"):
        run_data(box, runs)
    with pytest.raises(CaseError, match="no run to match"):
        run_data(box, [])


BLOCK = '[option."fitted"]\n\n[option."fitted".set]\n"room.temperature" = "21 degC"\n'
FILE = """[case]
title = "x"

[room]
temperature = "20 degC"

[sheet.a]
corner = "0, 0 mm"
size = "50 x 50 mm"
thickness = "1 mm"
material = "aluminium 6061"
"""


@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_the_block_is_written_once_and_nothing_else_is_touched(tmp_path, newline):
    path = tmp_path / "case.toml"
    path.write_bytes(FILE.replace("\n", newline).encode())
    case = Case.load(path)
    for value in ("21 degC", "23 degC"):
        write_into(case, BLOCK.replace("21 degC", value), ["fitted"])
        text = path.read_bytes().decode()
        assert text.startswith(FILE.replace("\n", newline))
        assert text.count(BEGIN) == text.count(END) == 1
        assert ("\r\n" in text) == (newline == "\r\n")
        assert Case.load(path, "fitted").spec.room.temperature == float(value.split()[0])
    assert [one.name for one in tmp_path.iterdir()] == ["case.toml"]


def test_a_block_that_would_not_load_is_not_written(tmp_path):
    path = tmp_path / "case.toml"
    path.write_text(FILE)
    with pytest.raises(CaseError):
        write_into(Case.load(tmp_path), BLOCK.replace("room.temperature", "room.temprature"), ["fitted"])
    assert path.read_text() == FILE


@pytest.mark.parametrize("marks", [f"{BEGIN}\n", f"{END}\n", f"{END}\n{BEGIN}\n", 2 * f"{BEGIN}\n{END}\n"])
def test_broken_marks_are_refused(tmp_path, marks):
    """What lies between two marks that are no pair may be the user's own."""
    path = tmp_path / "case.toml"
    path.write_text(FILE + marks)
    with pytest.raises(CaseError, match="mend or remove"):
        write_into(Case.load(path), BLOCK, ["fitted"])
    assert path.read_text() == FILE + marks


def test_a_read_only_file_stays_and_a_link_stays_one(tmp_path):
    path, link = tmp_path / "case.toml", tmp_path / "link.toml"
    path.write_text(FILE)
    link.symlink_to(path)
    path.chmod(0o640)
    write_into(Case.load(link), BLOCK, ["fitted"])
    assert link.is_symlink()
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    text = path.read_text()
    assert BEGIN in text
    path.chmod(0o444)
    with pytest.raises(CaseError, match="read-only"):
        write_into(Case.load(path), BLOCK.replace("21 degC", "22 degC"), ["fitted"])
    assert path.read_text() == text


def test_an_option_of_the_name_is_refused_before_the_work(tmp_path):
    path = tmp_path / "case.toml"
    path.write_text(FILE + "[option.mine]\nset = {}\n")
    write_into(Case.load(path), BLOCK, ["fitted"])
    check_names(Case.load(path), ["fitted"])  # its own of an earlier fit
    with pytest.raises(CaseError, match='an option "mine" already'):
        check_names(Case.load(path), ["mine"])


def test_what_follows_an_earlier_block_stays():
    text = with_block(f"a = 1\n\n{BEGIN}\nold\n{END}\n[room]\n", "new\n")
    assert text == f"a = 1\n\n{BEGIN}\nnew\n{END}\n[room]\n"


@pytest.mark.parametrize(("value", "standard", "told"), [
    (2.224576, 0.0045, 2.2246), (2.224576, 0.1, 2.22), (12.747711, 0.5, 12.75), (0.0, 1.0, 0.0),
])  # fmt: skip
def test_values_have_as_many_digits_as_they_are_sure_of(value, standard, told):
    assert rounded(value, standard) == told


def test_the_usual_held_out_run_is_of_the_option_with_most(box):
    runs = dict(list(RUNS.items())[:3])
    data = run_data(box, planted_runs(box, runs))
    assert held_out(box, data, []).run == "before 2"
