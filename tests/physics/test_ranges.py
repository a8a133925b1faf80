"""A correlation used outside its range is noted once, as a warning or in the run's notes."""

import warnings

import numpy as np
import pytest

from thermsim.physics.ranges import OutOfRange, check_range, collect_ranges, forget


@pytest.fixture(autouse=True)
def fresh():
    forget()
    yield
    forget()


def test_inside_and_at_the_bounds_says_nothing():
    assert check_range("c", "Re", 10.0, 10.0, 20.0)
    assert check_range("c", "Re", np.array([10.0, 20.0]), 10.0, 20.0)
    assert check_range("c", "Re", np.array([]), 10.0, 20.0)


def test_warns_once_for_each_correlation_and_quantity():
    with pytest.warns(OutOfRange, match=r"Gnielinski: Re 100 m is outside 2300 to 5e\+06 m"):
        assert not check_range("Gnielinski", "Re", 100.0, 2300.0, 5e6, "m")
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert not check_range("Gnielinski", "Re", 200.0, 2300.0, 5e6)
    with pytest.warns(OutOfRange):
        check_range("Gnielinski", "Pr", 0.1, 0.5, 2000.0)


def test_notes_of_a_run_replace_warnings():
    with collect_ranges() as notes:
        for value in (5.0, 6.0):
            assert not check_range("c", "Ra", value, 0.0, 1.0)
        assert not check_range("c", "Pr", np.array([0.5, 7.0]), 0.0, 1.0)
    assert list(notes) == ["c: Ra 5 is outside 0 to 1", "c: Pr 7 is outside 0 to 1"]
    with collect_ranges() as second:
        pass
    assert len(second) == 0


def test_not_a_number_is_outside():
    with collect_ranges() as notes:
        assert not check_range("c", "Re", float("nan"), 0.0, 1.0)
        assert not check_range("d", "Re", np.array([0.5, np.nan]), 0.0, 1.0)
    assert len(notes) == 2
