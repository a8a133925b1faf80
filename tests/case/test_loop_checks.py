"""What a loop's book is asked for, stated badly: one plain message each."""

import sys
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).parents[1] / "studies"))
from one_loop import one_loop

from thermsim.case import CaseError


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        (
            {"loop__main__coldest": "30 degC", "loop__main__hottest": "20 degC"},
            "coldest: must be below hottest, 20.0 °C",
        ),
        ({"loop__main__rating": "1 bar", "loop__main__fill_pressure": "1.5 bar"}, "must be below the rating, 100 kPa"),
        ({"loop__main__vented": True, "loop__main__fill_pressure": "1 kPa"}, "a vented loop holds no pressure"),
        ({"loop__main__fill_temperature": "-3 degC"}, "fill_temperature: must be between 0 and 100 °C; got -3.0 °C"),
        ({"reservoir__tank__reserve": "200 mL"}, "reservoir.tank.reserve: is more than it holds, 100 mL"),
        ({"block__cold__wetted": ["cooper"]}, "block.cold.wetted"),
        ({"block__cold__wetted": "copper"}, "block.cold.wetted: must be a list"),
        ({"loop__main__ph": 15}, "loop.main.ph: must be at most 14; got 15"),
        ({"hose__out__permeation": "0.1 g"}, "is a mass; expected a permeation"),
        ({"hose__out__permeation": "-0.1 g/md"}, "hose.out.permeation: must be at least 0"),
        ({"loop__main__wet": ["copper"]}, 'did you mean "wetted"'),
    ],
)
def test_message(changes, message):
    with pytest.raises(CaseError) as caught:
        one_loop(**changes)
    assert message in str(caught.value)
    assert len(caught.value.problems) == 1
