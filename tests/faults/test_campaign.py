"""A short campaign of kills at random moments; the long one is `python -m tests.faults.campaign --count 100`."""

import pytest

from tests.faults.calls import check_whole, largest_difference
from tests.faults.campaign import campaign


@pytest.mark.slow
def test_nothing_finished_is_lost_by_a_kill():
    assert campaign(6, ("full", "sweep"), seed=7, sent="KILL") == 0


@pytest.mark.parametrize("name", ["result.h5", "deep/compare.json", "map.svg", "map.png", "page.html"])
def test_the_campaign_sees_what_is_half_written(tmp_path, name):
    path = tmp_path / name
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(b'<svg><html>{"half": ')
    with pytest.raises((AssertionError, ValueError, SyntaxError)):
        check_whole(tmp_path)


def test_the_campaign_sees_what_differs():
    facts = {"a": [1.0, 2.0], "b": "x"}
    assert largest_difference(facts, facts)[0] == 0
    assert largest_difference(facts, {"a": [1.0, 2.5], "b": "x"}) == (0.5, "/a/1")
    for other in ({"a": [1.0, 2.0], "b": "y"}, {"a": [1.0, 2.0]}, {"a": [1.0], "b": "x"}, {"a": [1, True], "b": "x"}):
        with pytest.raises(AssertionError, match=r"/a|/b|'b'"):
            largest_difference(facts, other)
