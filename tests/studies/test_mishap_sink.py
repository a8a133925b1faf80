"""A sink stated by its fins, when its fan stops: upright fins draw air by themselves, others give nothing."""

import pytest

from thermsim.case import Case, CaseError
from thermsim.physics.air import dry_air
from thermsim.solve.factor import NoPath
from thermsim.studies.mishap.strike import strike
from thermsim.studies.mishap.troubles import troubles
from thermsim.studies.settled import Settler

WATTS = 2.0
# fins far apart, thick and of copper: nearly all at one temperature
SINK = {
    "on": "part.p", "airway": "airway.a", "base": "100 x 100 mm", "fins": 4, "fin_height": "40 mm",
    "fin_thickness": "3 mm", "conductivity": "390 W/mK", "heat_capacity": "100 J/K",
    "flow_share": "0 %",
}  # fmt: skip


def case(**sink) -> Case:
    """A part under a sink past whose fins no fan drives air; the draught only takes the air's own warmth away."""
    return Case.from_dict({
        "case": {"title": "fins"}, "room": {"temperature": "20 degC"}, "run": {"duration": "10 min", "frames": 3},
        "part": {"p": {"size": "30 x 30 mm", "watts": f"{WATTS} W", "limit": "90 degC", "heat_capacity": "5 J/K"}},
        "sink": {"s": SINK | sink}, "joint": {"j": {"between": ["part.p", "sink.s"], "resistance": "0.1 K/W"}},
        "fan": {"f": {"curve": ["0 m3/h, 30 Pa", "30 m3/h, 0 Pa"]}},
        "airway": {"a": {"fans": ["fan.f"], "resistance": "0.01 Pa/(m3/h)2", "draught": "200 m3/h"}},
    })  # fmt: skip


def test_wide_upright_fins_are_single_plates():
    metal = Settler().settle(case(upright=True)).parts["p"] - 0.1 * WATTS
    rise, air = metal - 20.0, dry_air(0.5 * (metal + 20.0))
    # laminar natural convection of a vertical plate, Nu = 0.59 Ra^(1/4) (Incropera & DeWitt, 6th ed., equation 9.24)
    ra = 9.80665 * air.expansion * rise * 0.1**3 / (air.kinematic_viscosity * air.diffusivity)
    film = 0.59 * ra**0.25 * air.conductivity / 0.1
    area = 8 * 0.04 * 0.1 + 0.1 * (0.1 - 4 * 0.003)  # both sides of four fins, and the base between them
    assert film * area * rise == pytest.approx(WATTS, rel=0.03)


def test_fins_that_lie_give_nothing_without_flow():
    with pytest.raises(NoPath):
        Settler().settle(case())
    assert Settler().settle(case(still="12 K/W")).parts["p"] == pytest.approx(20 + WATTS * 12.1, rel=0.01)


def test_upright_fins_outlive_their_fan():
    found = case(upright=True, flow_share="100 %").with_changes({"airway.a.draught": "1 m3/h"})
    stopped = strike(found, troubles(found)["fan.f stops"])
    lying = found.with_changes({"sink.s.upright": False})
    assert stopped["ends"]["parts_degc"]["p"] > stopped["settled_before_degc"]["p"] + 5
    assert stopped["safe_power"]["watts"] >= strike(lying, troubles(lying)["fan.f stops"])["safe_power"]["watts"]


def test_what_leaves_its_range_is_told():
    found = case(upright=True, flow_share="100 %").with_changes({"airway.a.draught": "0.01 m3/h"})
    assert any(
        note.startswith("dry air: temperature") for note in strike(found, troubles(found)["fan.f stops"])["notes"]
    )


def test_a_measured_sink_is_not_upright():
    measured = {"on": "part.p", "airway": "airway.a", "resistance": "2 K/W", "at_flow": "10 m3/h", "exponent": 0.6}
    with pytest.raises(CaseError, match="of a measured sink give still"):
        Case.from_resolved(case().resolved() | {"sink": {"s": measured | {"upright": True}}})
