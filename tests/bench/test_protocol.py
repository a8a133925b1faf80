"""The bench protocol: lengths and counts against formulas, and what a case's checklist must hold."""

import json
import re
import tomllib

import numpy as np
import pytest
from bench_box import CASE

from thermsim.bench.logs.headers import take_apart
from thermsim.bench.paired.ends import End
from thermsim.bench.paired.repeats import Repeats, difference
from thermsim.bench.protocol.plan import INTERVAL, order_of, repeats_for, resolved_by, steady_by
from thermsim.bench.protocol.stands import names
from thermsim.bench.protocol.study import protocol_of
from thermsim.case import Case, load_case
from thermsim.case.errors import CaseError
from thermsim.report.protocol_text import protocol_text


@pytest.fixture(scope="module")
def digitiser():
    return load_case("cases/digitiser")


@pytest.fixture(scope="module")
def facts(digitiser):
    return protocol_of(digitiser)


@pytest.fixture(scope="module")
def organ_facts():
    return protocol_of(load_case("cases/organ"))


@pytest.mark.parametrize(
    ("criterion", "seconds"),
    [("2 K/h", 6640.0), ("2 K in 1 h", 8730.6), ("3 K in 30 min", 5636.9), ("1 K in 5 min", 3566.9)],
)
def test_when_a_single_exponential_is_steady(criterion, seconds):
    # 40 K, 1800 s, solved by hand: 40/1800 e^(−t/1800) = 2/3600 K/s, and likewise 40 (e^(600/…) …) over each window
    assert steady_by(40.0, 1800.0, criterion) == pytest.approx(seconds, abs=0.05)
    assert steady_by(1e-3, 1800.0, criterion) <= 3600.0


def test_runs_for_a_difference():
    # NIST/SEMATECH e-Handbook 7.2.2.2: N ≥ (t + t)² (s/δ)² each, twice that variance for two means; t by hand from
    # Student's table: 2.365 and 1.415 at 7 degrees of freedom, 2.571 and 1.476 at 5
    assert resolved_by(5, 0.2) == pytest.approx((2.365 + 1.415) * 0.2 * np.sqrt(2 / 5), rel=1e-3)
    assert resolved_by(4, 0.2) == pytest.approx((2.571 + 1.476) * 0.2 * np.sqrt(2 / 4), rel=1e-3)
    assert repeats_for(0.5, 0.2) == 5
    assert repeats_for(0.001, 0.2) is None


@pytest.mark.parametrize("count", [3, 5])
def test_so_many_runs_find_it_nine_times_in_ten(count):
    # simulated: by the interval that `thermsim bench` states
    rng, found = np.random.default_rng(1), []
    for _ in range(2000):
        before = _ends(rng.normal(0, 0.2, count))
        told = difference(before, _ends(rng.normal(resolved_by(count, 0.2), 0.2, count)), 0.2)
        found.append(told.value > told.half_width())
    assert 0.88 <= np.mean(found) <= 0.92


def _ends(values):
    return Repeats(tuple(End(value, (), value, False, None, None) for value in values))


def test_the_order_is_shuffled_and_stays():
    order = order_of(["base", "hybrid"], 3, 1)
    assert order == order_of(["base", "hybrid"], 3, 1)
    assert sorted(order) == ["base"] * 3 + ["hybrid"] * 3
    assert order != sorted(order)
    assert {tuple(order_of(["a", "b"], 3, seed)) for seed in range(20)} != {tuple(order_of(["a", "b"], 3, 1))}


def test_a_rebuild_is_not_shuffled(facts, digitiser):
    assert facts["plan"]["order"] == ["base"] * 3 + ["hybrid"] * 3  # nobody drains a loop between any two runs
    assert "all runs of “base” come first" in facts["sections"][-2]["steps"][-2]
    paste = {f'bench.run."after {number}".option': "better paste" for number in (1, 2, 3)}
    cheap = protocol_of(digitiser.with_changes(paste))
    assert cheap["stands"] == ["base", "better paste"]
    assert cheap["plan"]["order"] != sorted(cheap["plan"]["order"])
    assert "come first" not in protocol_text(cheap)


def test_a_box_without_fans_loop_and_humidity():
    # nothing that moves is to be switched, nothing wetted, and no meter reads the silence of a box without fans
    still = Case.from_text(CASE.replace('humidity = "45 %"', ""))
    facts = protocol_of(still)
    text = protocol_text(facts)
    assert not re.search(r"fans|pump|coolant|Dew|dew", text)
    assert next(row for row in facts["columns"] if row["channel"] == "noise")["values"] == {
        "base": None,
        "pasted": None,
    }
    assert len(facts["plan"]["order"]) == 6


def test_what_hurts_stands_before_the_step(facts):
    # common practice, no source: isolate, know the limits broken and the switch before anything is touched or run
    text = protocol_text(facts)
    assert text.index("breaks limits") < text.index("WHAT TO LOG")
    assert text.index("capacitors discharged") < text.index("PROBES")
    assert text.index("goggles") < text.index("Soak 15 min")
    assert text.index("Know the switch") < text.index("Switch on with")
    assert text.index("one cup of stirred water") < text.index("Thin wire")


def test_what_stands_on_the_bench(digitiser):
    assert names(digitiser) == ["base", "hybrid"]
    assert names(load_case("cases/organ")) == ["base", "liquid"]
    assert names(load_case("cases/organ", "two heat pipes")) == ["base", "two heat pipes"]


def test_parts_with_the_least_margin_come_first(facts, digitiser):
    parts = [row for row in facts["columns"] if row["channel"].startswith("part.")]
    assert len(parts) == len(digitiser.spec.part)
    margins = [row["limit_degc"] - max(row["values"].values()) for row in parts]
    assert margins == sorted(margins)
    assert facts["columns"][0]["channel"] == "part.preamp_right"


def test_expected_values_are_the_models(facts, digitiser):
    from thermsim.studies.settled import Settler

    settled = Settler().settle(digitiser.with_option("hybrid"))
    told = {row["channel"]: row["values"]["hybrid"] for row in facts["columns"]}
    assert told["part.fpga"] == pytest.approx(settled.parts["fpga"], abs=0.01)
    assert told["fan.pair"] == pytest.approx(3600 * settled.speeds["fan.pair"])
    assert told["loop.main.flow"] == pytest.approx(6e4 * settled.coolant_flows["main"], rel=1e-3)
    assert told["noise"] == pytest.approx(settled.noise[1], abs=0.01)
    assert told["plate.main.outlet"] > told["plate.main.inlet"]


def test_all_that_should_be_logged_is(facts):
    channels = [row["channel"] for row in facts["columns"]]
    assert channels.count("room") == 3
    wanted = {
        "airway.main.inlet", "airway.main.outlet", "plate.main.inlet", "plate.main.outlet", "loop.main.flow",
        "fan.pair", "supply.volts", "supply.amps", "humidity", "noise", "noise.background", "state", "event",
    }  # fmt: skip
    assert wanted <= set(channels)


@pytest.mark.parametrize("which", ["facts", "organ_facts"])
def test_a_log_with_these_headers_is_read_as_it_is(request, which, tmp_path, digitiser):
    from thermsim.bench.logs.read import read_log

    told = request.getfixturevalue(which)
    case = digitiser if which == "facts" else load_case("cases/organ")
    words = {"state": "play", "event": ""}
    header = ["time [s]", *(row["header"] for row in told["columns"])]
    rows = [[str(10 * k), *(words.get(row["channel"], "30.5") for row in told["columns"])] for k in range(12)]
    path = tmp_path / "run.csv"
    path.write_text("\n".join(",".join(row) for row in [header, *rows]) + "\n", encoding="utf-8")
    block = tomllib.loads(told["block"])["bench"]
    case = case.with_changes({f'bench.columns."{key}"': value for key, value in block["columns"].items()})
    rated = {row["channel"]: 50.0 for row in told["columns"] if row["unit"] == "rpm"}
    log = read_log(path, case.spec.bench, rated=rated)
    assert set(log.readings) | set(log.texts) == {row["channel"] for row in told["columns"]}
    assert all(np.isfinite(values).all() for values in log.readings.values())
    assert log.readings["noise"][0] == pytest.approx(30.5)


def test_the_block_makes_a_case_with_runs(organ_facts):
    runs = tomllib.loads(organ_facts["block"])["bench"]["run"]
    assert list(runs) == ["before 1", "before 2", "before 3", "after 1", "after 2", "after 3"]
    assert runs["after 1"]["option"] == "liquid"
    assert "option" not in runs["before 1"]


def test_every_header_says_its_unit(facts):
    for row in facts["columns"]:
        assert bool(row["unit"]) == bool(take_apart(row["header"]).unit), row["header"]


def test_plan_is_long_enough(facts):
    plan = facts["plan"]
    assert plan["run_s"] >= 3 * plan["slowest_s"]
    assert plan["interval_s"] == INTERVAL
    assert plan["runs_each"] == 3


def test_a_wanted_difference_sets_the_runs(digitiser):
    told = protocol_of(digitiser, "0.5 K")["plan"]
    assert told["resolves_k"] <= 0.5
    assert resolved_by(told["runs_each"] - 1, told["repeatability_k"]) > 0.5
    assert len(told["order"]) == 2 * told["runs_each"]


def test_repeatability_comes_from_the_runs_there_are(facts, organ_facts):
    assert facts["plan"]["repeatability_freedom"] == 4
    assert organ_facts["plan"]["repeatability_freedom"] == 0
    assert organ_facts["plan"]["repeatability_k"] == 0.2


@pytest.mark.parametrize(
    ("resolve", "message"),
    [
        ("0.5", 'needs a unit, for example "0.5 K"'), ("0.5 W", "is a power; expected a difference"),
        ("0 K", "must be above 0"), ("-1 K", "must be above 0"), ("much", "is not a quantity"),
        ("0.001 K", "takes more than 30 runs each"),
    ],
)  # fmt: skip
def test_wrong_differences_are_told(digitiser, resolve, message):
    with pytest.raises(CaseError, match=r"^--resolve: ") as told:
        protocol_of(digitiser, resolve)
    assert message in str(told.value)


def test_two_pages_of_numbered_boxes(facts):
    text = protocol_text(facts, 100)
    checklist = text.split("FOR THE CASE FILE")[0]
    assert len(checklist.splitlines()) < 2 * 62
    assert max(map(len, checklist.splitlines())) <= 110
    numbers = [int(number) for number in re.findall(r"^\[ \] +(\d+) ", checklist, re.MULTILINE)]
    assert numbers == list(range(1, len(numbers) + 1))
    assert checklist.index("approval") < checklist.index("WHAT TO LOG")
    assert "approves nothing" in checklist


def test_what_a_case_holds_is_cautioned_of(facts, organ_facts):
    text, organ = protocol_text(facts), protocol_text(organ_facts)
    assert "dew point 9.5 °C" in text  # 22 °C and 45 %, ASHRAE's formulas through psychrolib
    assert "Nothing" not in text
    assert "hold 11 min" in text
    assert "Kink test" not in text
    assert "Batteries" in organ
    assert "hold 30 min" in organ
    pipes = protocol_text(protocol_of(load_case("cases/organ", "two heat pipes")))
    assert "Kink test" in pipes
    assert "Leak test" not in pipes


def test_facts_are_plain(facts):
    assert json.loads(json.dumps(facts)) == facts
