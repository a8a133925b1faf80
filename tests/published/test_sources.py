"""Heat put into a sheet: three ways of stating it, and what is refused."""

import pytest
from published_cases import film, leaving, model_of, rectangle, sheet

from thermsim.case import CaseError
from thermsim.solve.steady import solve_steady

AREA = rectangle(0.02, 0.01, 0.03, 0.02)  # 6 cm² of a sheet 2 mm thick


def watts_of(**stated) -> float:
    model = model_of(
        cell=0.01,
        sheet={"s": sheet(0.1, 0.05, 0.002, 20)},
        film={"top": film(10)},
        source={"heater": {"on": "sheet.s"} | stated},
    )
    return leaving(model, solve_steady(model))["film.top"]


def test_watts_flux_and_density_say_the_same():
    # by their definitions: 1.2 W = 2 kW/m² × 6 cm² = 1 MW/m³ × 1.2 cm³
    assert watts_of(**AREA, watts="1.2 W") == pytest.approx(1.2, rel=1e-9)
    assert watts_of(**AREA, flux="2 kW/m2") == pytest.approx(1.2, rel=1e-9)
    assert watts_of(**AREA, density="1 MW/m3") == pytest.approx(1.2, rel=1e-9)
    assert watts_of(flux="0.24 kW/m2") == pytest.approx(1.2, rel=1e-9)
    assert watts_of(watts="-0.5 W") == pytest.approx(-0.5, rel=1e-9)


@pytest.mark.parametrize(
    ("stated", "message"),
    [
        ({}, "case: source.heater: give one of watts, flux, density"),
        ({"watts": "1 W", "flux": "1 W/m2"}, "case: source.heater.flux: give only one of watts, flux"),
        (
            {"watts": "1 W", "corner": "0, 0 m"},
            "case: source.heater.size: missing; corner and size go together",
        ),
        (
            {"watts": "1 W", **rectangle(0.08, 0, 0.03, 0.01)},
            "case: source.heater.corner: x 80 to 110, y 0 to 10 mm is not inside sheet.s, x 0 to 100, y 0 to 50 mm",
        ),
        (
            {"watts": "1 W", "on": "sheet.t"},
            'case: source.heater.on: there is no sheet "t"; did you mean "sheet.s"?',
        ),
    ],
)
def test_what_is_refused(stated, message):
    with pytest.raises(CaseError) as caught:
        watts_of(**stated)
    assert str(caught.value) == message


def test_only_stated_watts_and_air_may_follow_a_duty():
    points = {"points": ["0 s, 1 W"]}
    with pytest.raises(CaseError, match=r"duty\.d\.of: source\.heater has no watts to change"):
        model_of(
            sheet={"s": sheet(0.1, 0.05, 0.002, 20)},
            source={"heater": {"on": "sheet.s", "flux": "1 W/m2"}},
            duty={"d": {"of": "source.heater.watts", **points}},
        )
    with pytest.raises(CaseError, match=r"duty\.d\.of: film\.top has no air temperature to change"):
        model_of(
            sheet={"s": sheet(0.1, 0.05, 0.002, 20)},
            film={"top": film(10)},
            duty={"d": {"of": "film.top.air", "points": ["0 s, 20 degC"]}},
        )
