"""When the published criteria call a single exponential steady: 40 K still to rise, τ 1800 s."""

import numpy as np
import pytest

from thermsim.solve.settle import CRITERIA, criterion_met

TAU = 1800.0
TIMES = np.linspace(0, 14400, 14401)
RISE = 40 * (1 - np.exp(-TIMES / TAU))


@pytest.mark.parametrize(
    ("name", "seconds", "still_to_come"),
    [  # closed forms of the exponential; each criterion's own standard is named in CRITERIA
        ("2 K/h", 6640.0, 1.000),
        ("2 K in 1 h", 8730.6, 0.313),
        ("3 K in 30 min", 5636.9, 1.746),
        ("1 K in 5 min", 3566.9, 5.514),
    ],
)
def test_criterion_is_met_when_it_should_be(name, seconds, still_to_come):
    met = criterion_met(TIMES, RISE, 40.0, CRITERIA[name])
    assert met.time == pytest.approx(seconds, abs=15)
    assert met.residual == pytest.approx(still_to_come, rel=0.01)
