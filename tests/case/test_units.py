"""The table of units against pint, or the definition named beside a unit that pint has not."""

import pint
import pytest

from thermsim import units

PINT_SPELLING = {
    "mil": "thou",  # pint's mil is an angle
    "mmH2O": "9.80665 Pa",  # conventional millimetre of water, ISO 80000-4 (1 kgf/m2); pint's is at 4 °C
    "inH2O": "25.4 * 9.80665 Pa",  # same convention
    "cfm": "ft**3/min",  # pint reads centi-femto-metre
    "Pas2/m6": "Pa*s**2/m**6",
    "degC/W": "K/W",  # of a difference
    "W/degC": "W/K",
    "rpm": "1/min",  # pint's rpm carries 2π; ours counts turns
    "rev/min": "1/min",
    "rev/s": "1/s",
    "Hz": "1/s",
    "%": "0.01",
    "": "1",
    "ppm": "1e-6",
    "%/s": "0.01/s",
    "%/min": "0.01/min",
    "%/K": "0.01/K",
    "ppm/K": "1e-6/K",
    "ppb/K": "1e-9/K",
    "Pam3/s": "Pa*m**3/s",
    "mbarL/s": "mbar*L/s",
    "mbarl/s": "mbar*L/s",
    # cubic centimetres of gas at 0 °C and one atmosphere, here as Pa·m³/s of the same gas at 20 °C (Boyle and Charles)
    "sccm": "atm*cm**3/min*293.15/273.15",
    "d": "day",
    "in": "inch",
}
NOT_IN_PINT = {"dB", "dBA", "dB(A)"}


def pint_text(unit: str) -> str:
    """Our spelling as pint reads it: W/m2K is W/(m**2*K)."""
    if unit in PINT_SPELLING:
        return PINT_SPELLING[unit]
    above, _, below = unit.partition("/")
    if "(" in below:
        return f"{above}/({below.replace('m3', 'm**3').replace(')2', ')**2')})"
    return "/".join(f"({_factors(piece)})" for piece in (above, below) if piece)


def _factors(text: str) -> str:
    text = text.replace("2", "**2").replace("3", "**3")
    for pair in ("kgK", "gK", "cmK", "m**2K", "cm**2K", "mm**2K", "m**3K", "cm**3K"):
        if text == pair:
            return f"{pair[:-1]}*K"
    if text.startswith("K") and len(text) > 1:
        return f"K*{text[1:]}"
    return text


@pytest.fixture(scope="module")
def registry():
    return pint.UnitRegistry()


PAIRS = [(dimension, unit) for dimension, table in units._TABLE.items() for unit in table if unit not in NOT_IN_PINT]


@pytest.mark.parametrize(("dimension", "unit"), PAIRS)
def test_table_against_pint(registry, dimension, unit):
    text = "W/(m*K)" if unit == "W/mK" else "mW/(m*K)" if unit == "mW/mK" else pint_text(unit)
    base = units.base_unit(dimension)
    base_text = "W/(m*K)" if base == "W/mK" else pint_text(base)
    expected = registry.Quantity(registry(text) / registry(base_text)).to_base_units() if text != base_text else 1.0
    assert units._TABLE[dimension][unit] == pytest.approx(float(expected), rel=1e-12)


@pytest.mark.parametrize(
    ("text", "degc"),
    [  # fixed points of ITS-90 and the inch-pound scale's definition
        ("273.16 K", 0.01),
        ("23 degC", 23.0),
        ("23 °C", 23.0),
        ("-40 degF", -40.0),
        ("212 degF", 100.0),
        ("−5 C", -5.0),
    ],
)
def test_temperatures(text, degc):
    assert units.quantity(text, "temperature") == pytest.approx(degc, abs=1e-9)


@pytest.mark.parametrize(
    ("spellings", "dimension"),
    [
        (["9 W/m2K", "9 W/m²K", "9 W/m^2K", "9 W/(m² K)", "9 W/(m²·K)", "9 W/m2/K", "9W/m2K"], "film"),
        (["25 W/mK", "25 W/(m K)", "25 W/m/K", "25 W/(m·K)"], "conductivity"),
        (["0.012 Pa/(m3/h)2", "0.012 Pa/(m³/h)²", "0.012 Pa/(m3/h)^2"], "flow_resistance"),
        (["20 mm2K/W", "20 mm²·K/W", "20 K mm²/W"], "resistivity"),
        (["35 um", "35 µm", "35 μm", "3.5e-2 mm"], "length"),
        (["29 dB(A)", "29 dBA", "29 dB"], "level"),
        (["45 %", "45%", 0.45, "0.45"], "fraction"),
        (["2 rev/s", "120 rpm", "120 1/min"], "rotation"),
    ],
)
def test_spellings_of_one_quantity(spellings, dimension):
    first, *others = (units.quantity(text, dimension) for text in spellings)
    assert others == pytest.approx([first] * len(others))


@pytest.mark.parametrize(
    ("value", "dimension", "message"),
    [
        ("35 mm", "power", "'35 mm' is a length; expected a power, for example \"35 W\""),
        (5, "power", 'needs a unit, for example "35 W"'),
        ("5", "power", 'needs a unit, for example "35 W"'),
        ("2 degC", "difference", "'2 degC' is a temperature; expected a difference, for example \"0.5 K\""),
        ("3 K/W", "conductance", "'3 K/W' is a resistance; expected a conductance, for example \"14 W/K\""),
        ("50 CFM", "flow", "unknown unit 'CFM' in '50 CFM'; did you mean \"cfm\"?"),
        ("3 Lmin", "flow", "unknown unit 'Lmin' in '3 Lmin'; did you mean \"L/min\"?"),
        ("35 W at 3", "power", "unknown unit 'W at 3' in '35 W at 3'; expected for example \"35 W\""),
        ("nan W", "power", "'nan W' is not a finite number"),
        ("-inf W", "power", "'-inf W' is not a finite number"),
        ("1e999 W", "power", "'1e999 W' is not a finite number"),
        (float("inf"), "fraction", "'inf' is not a finite number"),
        ("1,5 mm", "length", "'1,5 mm': write one number, with a point and not a comma"),
        (True, "power", 'true is not a quantity: expected text such as "1.6 mm"'),
        (
            "thick",
            "length",
            "'thick' is not a quantity: expected a number and a unit, such as \"1.6 mm\"",
        ),
    ],
)
def test_messages(value, dimension, message):
    with pytest.raises(units.UnitError) as caught:
        units.quantity(value, dimension)
    assert str(caught.value) == message


def test_tuples():
    assert units.tuple_of("140, 90 mm", "length", 2) == pytest.approx((0.14, 0.09))
    assert units.tuple_of("30 x 30 mm", "length", 2) == pytest.approx((0.03, 0.03))
    assert units.tuple_of("320×220×66 mm", "length", 3) == pytest.approx((0.32, 0.22, 0.066))
    assert units.tuple_of("1 m, -90 mm", "length", 2) == pytest.approx((1.0, -0.09))
    assert units.tuple_of(["1 m", "90 mm"], "length", 2) == pytest.approx((1.0, 0.09))


@pytest.mark.parametrize(
    ("value", "message"),
    [
        ("30 mm", 'expected 2 lengths, for example "140, 90 mm"; found 1'),
        (30, 'expected 2 lengths, for example "140, 90 mm"'),
        ("30, 20", 'needs a unit, for example "1.6 mm"'),
        ([30, 20], 'needs a unit, for example "1.6 mm"'),
        ("30, 20 W", "'30 W' is a power; expected a length, for example \"1.6 mm\""),
    ],
)
def test_tuple_messages(value, message):
    with pytest.raises(units.UnitError) as caught:
        units.tuple_of(value, "length", 2)
    assert str(caught.value) == message


def test_points():
    found = units.points(["0 m3/h, 38 Pa", "36 m3/h, 0 Pa"], ("flow", "pressure"))
    assert found[0] == (0.0, 38.0)
    assert found[1] == pytest.approx((0.01, 0.0))
    with pytest.raises(units.UnitError, match=r'^point 2: expected a pair, for example "0.8 L/min, 38 Pa"$'):
        units.points(["0 m3/h, 38 Pa", "36 m3/h"], ("flow", "pressure"))
    with pytest.raises(units.UnitError, match=r"^expected a list$"):
        units.points("0 m3/h, 38 Pa", ("flow", "pressure"))


@pytest.mark.parametrize(
    ("text", "dimension", "shown"),
    [
        ("35 W", "power", "35 W"),
        ("296.55 K", "temperature", "23.4 °C"),
        ("29.5 m3/h", "flow", "29.5 m³/h"),
        ("0.58 L/min", "flow", "0.58 L/min"),
        ("34.7 kPa", "pressure", "34.7 kPa"),
        ("38 Pa", "pressure", "38 Pa"),
        ("90 s", "time", "90 s"),
        ("30 min", "time", "30 min"),
        ("3 h", "time", "3 h"),
        ("150 mL", "volume", "150 mL"),
        ("9 W/m2K", "film", "9 W/m²K"),
        ("12345 W", "power", "12345 W"),
        ("45 %", "fraction", "45 %"),
        ("0.012 Pa/(m3/h)2", "flow_resistance", "0.012 Pa/(m³/h)²"),
    ],
)
def test_output(text, dimension, shown):
    assert units.format_quantity(units.quantity(text, dimension), dimension) == shown


@pytest.mark.parametrize("dimension", units.DIMENSIONS)
def test_output_can_be_read_back(dimension):
    value = units.quantity(units.example(dimension), dimension)
    assert units.quantity(units.format_quantity(value, dimension), dimension) == pytest.approx(value)
