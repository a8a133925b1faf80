"""The laws on a few random boxes each, with both engines where there is a history.

Seeds are the same every time; `python -m tests.construction.campaign` goes through many.
"""

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from laws import LAWS, LAWS_OF_ENGINES, Unfit

seeds = st.integers(0, 1_000_000)
few = settings(
    max_examples=5, deadline=None, derandomize=True, database=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.filter_too_much],
)  # fmt: skip


@pytest.mark.parametrize("law", LAWS)
@few
@given(seed=seeds)
def test_law(law, seed):
    try:
        LAWS[law](seed)
    except Unfit:
        assume(False)


@pytest.mark.parametrize("law", LAWS_OF_ENGINES)
@few
@given(seed=seeds)
def test_law_of_histories(engine, law, seed):
    try:
        LAWS_OF_ENGINES[law](seed, engine)
    except Unfit:
        assume(False)
