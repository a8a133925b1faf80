"""The page's first answer: what other studies know better of the option to take."""

from typing import Any

import pytest
from studied import mishap_facts, place_facts

from thermsim.report.page.answer import larger_sample, page_answer

COMPARE: dict[str, Any] = {
    "answer": ["as compared"],
    "options": {
        "base": {"parts": {"chip": {"margin_k": -1.0}}},
        "liquid": {"parts": {"chip": {"margin_k": 5.0}}},
    },
    "roles": {"base": "base", "liquid": "liquid"},
    "trials": [], "sensors": [], "noise_without": {}, "states": {"options": {}},
    "mishaps": {"liquid, pump stops": {"text": "pump stops", "at_s": 0.0, "first_over": "chip", "after_s": 300.0}},
    "decision": {
        "ranking": [{"option": "liquid", "passes": True, "ties_with_first": False}],
        "merits": {"liquid": {"margin": 5.0, "noise": 20.0}, "base": {"margin": -1.0, "noise": 20.0}},
        "must_haves": {
            "liquid": {"passes": True, "count": 1, "failed": []},
            "base": {"passes": False, "count": 1, "failed": [
                {"name": "chip limit", "of": "limit", "text": "chip limit: 91.0 °C, at most 90", "value": 91.0,
                 "at_most": 90.0},
            ]},
        },
        "pass_probability": {"liquid": {"share": 0.98, "low": 0.92, "high": 1.0}}, "draws": 64,
    },
}  # fmt: skip


def sweep(option: str | None, count: int) -> dict[str, Any]:
    told = {"count": count, "all_pass_probability": 0.96, "all_pass_low": 0.93, "all_pass_high": 0.98}
    return {"option": option, "samples": told}


def test_without_other_studies_it_is_the_comparisons() -> None:
    told = page_answer(COMPARE, {})
    assert "It passes in 98 % of 64 samples of what is not known well (92 to 100 %, 95 % sure)." in told[0]
    assert told[-1] == (
        "Mishaps that put a part over its limit: “liquid, pump stops” (chip, 5 min after switch-on, pump stops)."
    )
    assert page_answer(COMPARE | {"decision": None}, {}) == ["as compared"]


@pytest.mark.parametrize(
    ("option", "count", "taken"), [("liquid", 256, True), ("liquid", 32, False), (None, 256, False)]
)
def test_the_larger_sample_counts_if_it_is_of_the_option_to_take(option: str | None, count: int, taken: bool) -> None:
    facts = sweep(option, count)
    assert (larger_sample(COMPARE, facts) is not None) is taken
    assert ("96 % of 256 samples" in page_answer(COMPARE, {"sweep": facts})[0]) is taken


def test_mishaps_and_places_of_the_option_to_take() -> None:
    mishap = mishap_facts()
    for case in mishap["cases"]:
        case["alarms"] = []
    mishap["cases"][0]["first_over"] = {"part": "adc2", "time_s": 10.0, "limit_degc": 60.0}
    mishap["cases"][0]["what"] = "fan stops"
    told = page_answer(COMPARE, {"mishap": mishap, "place": place_facts()})
    assert told[-2].startswith("If something fails in “liquid”: pump small stops: 2.5 min to the first limit (chip_one")
    assert "room 8 K" not in told[-2]  # that is of the base case
    # 9.75 K in series against 5 K as it is
    assert told[-1] == "More margin: two plates in series reach 9.8 K under every limit; see “Where the plate goes”."
    better = COMPARE["decision"] | {"merits": {"liquid": {"margin": 9.75, "noise": None}, "base": {"margin": -1.0}}}
    assert "More margin" not in page_answer(COMPARE | {"decision": better}, {"place": place_facts()})[-1]


def test_what_was_measured_since_stands_beside_the_models_word() -> None:
    near = {"part": "chip", "degc": 81.25, "limit_degc": 85.0, "room_degc": 22.0, "margin_k": 3.75}
    bench = {"nearest_limit": near, "model": {"why_not": None, "off": [], "of": 4, "typical_u95_k": 1.5}}
    told = (
        "Measured since, see “Before and after”: Nearest to its limit after: chip at 81.2 °C of 85 with the room at "
        "22.0 °C; a room of about 26 °C would take it there. The model told the truth in all 4 places, before and "
        "after, within its own uncertainty, typically ± 1.5 K."
    )
    assert page_answer(COMPARE, {"bench": bench})[-1] == told
    assert page_answer(COMPARE | {"decision": None}, {"bench": bench}) == ["as compared", told]
