"""Digits that tell a value from its bound; safe values rounded to the safe side."""

import pytest

from thermsim.studies.words import safe_share, safe_watts, told_apart


@pytest.mark.parametrize(
    ("value", "bound", "text"),
    [(50.03, 50.0, "50.03"), (50.0, 50.0, "50.0"), (49.97, 50.0, "49.97"), (54.21, 50.0, "54.2"), (-0.03, 0.0, "-0.03"),
     (50.00001, 50.0, "50.0000"), (12.0, None, "12.0")],
)  # fmt: skip
def test_a_value_is_told_from_its_bound(value, bound, text):
    assert told_apart(value, bound) == text


def test_what_is_safe_is_never_rounded_up():
    assert (safe_share(0.4498), safe_watts(16.39)) == ("44 %", "16.3 W")
