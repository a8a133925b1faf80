"""What the reports say to a reader who does not know the tool."""

import pytest

from thermsim.report.check_text import estimate_lines
from thermsim.report.compare_text import counted, verdict_lines
from thermsim.studies.byhand import assumed


def summary(failed=(), mishaps=(), over=()):
    return {
        "must_haves": [{"name": name, "met": False} for name in failed],
        "mishaps": list(mishaps),
        "parts": {name: {"over_limit_at_s": at} for name, at in dict(over).items()},
    }


def facts(options):
    return {"options": options, "decision": None}


def test_options_with_commas_in_their_names_are_told_apart():
    lines = verdict_lines(facts({"liquid": summary(), "liquid, hot room": summary(), "air": summary(["quiet"])}))
    assert lines == ["meet every must-have: liquid; liquid, hot room", "  air: fails quiet"]


def test_a_mishap_says_which_part_is_over_first():
    told = summary(["a limit", "b limit"], ["pump_stops"], {"a": 3800.0, "b": 3720.0, "c": None})
    assert verdict_lines(facts({"x": told}))[1] == "  x: fails a limit, b limit; b first, 62.0 min after switch-on"


@pytest.mark.parametrize(
    ("names", "told"),
    [
        (["adc1 limit", "adc2 limit", "cpu limit"], ["adc ×2 limit", "cpu limit"]),
        (["adc1 limit", "quiet"], ["adc1 limit", "quiet"]),
    ],
)
def test_like_parts_are_counted_together(names, told):
    assert counted(names) == told


def test_each_gap_has_its_own_reason():
    def estimate(what, gap, reason):
        return {"what": what, "by_hand": 1.0, "by_model": 1.0, "unit": "K", "sum": "", "gap": gap,
                "flagged": abs(gap) > 0.2, "reason": reason}  # fmt: skip

    told = [estimate("a", 0.3, "leaks"), estimate("b", 0.0, "never"), estimate("c", 0.3, "warms"),
            estimate("d", 0.3, "leaks")]  # fmt: skip
    lines = estimate_lines(told)
    assert [line.split("*")[-1].strip() for line in lines[1:5] if "*" in line] == ["1", "2", "1"]
    assert lines[5:] == ["*1: leaks", "*2: warms"]


def test_silent_assumptions_are_said(small):
    assert "no film, so no heat to any air: bottom of sheet.board" in assumed(small.spec)
    assert not [text for text in assumed(small.spec) if "copper" in text]
    bare = small.with_changes({"sheet.board.conductivity": "0.3 W/mK"})
    (text,) = [text for text in assumed(bare.spec) if "copper" in text]
    assert text.startswith("sheet.board: 0.3 W/mK, a board without copper")
