"""The trade's units: text with a unit in, SI floats (temperatures in °C) out, and back for output.

The table is closed on purpose. Units are case sensitive (mW is not MW); ² and ^2, µ and u, with or without ·
and spaces, "W/(m K)" and "W/m/K" are taken as the same spelling.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Iterable
from difflib import get_close_matches
from math import inf, isfinite, radians
from typing import TYPE_CHECKING, Any, TypeVar, cast

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

T = TypeVar("T")
Numbers = TypeVar("Numbers", float, "NDArray[np.float64]")
Units = dict[str, float]

ZERO_CELSIUS_K = 273.15
INCH_M = 0.0254
WATER_COLUMN_PA = 9.80665  # of 1 mm, conventional
CUBIC_FOOT_M3 = (12 * INCH_M) ** 3
SCCM = 101325e-6 / 60 * (1 + 20 / ZERO_CELSIUS_K)  # cm³/min of gas at 0 °C and one atmosphere, as Pa·m³/s at 20 °C
PSI_PA = 6894.757293168  # pound-force (0.45359237 kg × 9.80665 m/s²) per square inch
SMALLEST, LARGEST = 1e-21, 1e21  # of any quantity in SI, but for zero


class UnitError(ValueError):
    """A quantity that cannot be read: the message is meant for the user."""


# Each unit's size in the SI unit of its dimension; that SI unit comes first. Temperatures have a table apart.
_TABLE: dict[str, Units] = {
    "length": {
        "m": 1, "mm": 1e-3, "cm": 1e-2, "um": 1e-6, "km": 1e3, "in": INCH_M, "ft": 12 * INCH_M,
        "mil": 1e-3 * INCH_M,
    },
    "area": {"m2": 1, "cm2": 1e-4, "mm2": 1e-6},
    "volume": {"m3": 1, "L": 1e-3, "l": 1e-3, "mL": 1e-6, "ml": 1e-6, "cm3": 1e-6, "mm3": 1e-9},
    "time": {"s": 1, "ms": 1e-3, "min": 60, "h": 3600, "d": 86400},
    "power": {"W": 1, "mW": 1e-3, "uW": 1e-6, "kW": 1e3},
    "flux": {"W/m2": 1, "kW/m2": 1e3, "W/cm2": 1e4, "W/mm2": 1e6},
    "power_density": {"W/m3": 1, "kW/m3": 1e3, "MW/m3": 1e6, "W/cm3": 1e6},
    "difference": {"K": 1, "mK": 1e-3},
    "conductivity": {"W/mK": 1, "mW/mK": 1e-3, "W/cmK": 1e2},
    "film": {"W/m2K": 1, "kW/m2K": 1e3, "W/cm2K": 1e4},
    "resistivity": {
        "m2K/W": 1, "cm2K/W": 1e-4, "mm2K/W": 1e-6, "Km2/W": 1, "Kcm2/W": 1e-4, "Kmm2/W": 1e-6,
    },
    "resistance": {"K/W": 1, "mK/W": 1e-3, "K/kW": 1e-3, "degC/W": 1},
    "conductance": {"W/K": 1, "mW/K": 1e-3, "kW/K": 1e3, "W/degC": 1},
    "heat_capacity": {"J/K": 1, "kJ/K": 1e3},
    "volumetric_heat": {"J/m3K": 1, "kJ/m3K": 1e3, "MJ/m3K": 1e6, "J/cm3K": 1e6},
    "specific_heat": {"J/kgK": 1, "kJ/kgK": 1e3, "J/gK": 1e3},
    "density": {"kg/m3": 1, "g/cm3": 1e3, "kg/L": 1e3, "g/mL": 1e3},
    "flow": {
        "m3/s": 1, "m3/h": 1 / 3600, "m3/min": 1 / 60, "L/s": 1e-3, "l/s": 1e-3, "L/min": 1e-3 / 60,
        "l/min": 1e-3 / 60, "L/h": 1e-3 / 3600, "l/h": 1e-3 / 3600, "mL/min": 1e-6 / 60,
        "ml/min": 1e-6 / 60, "cfm": CUBIC_FOOT_M3 / 60,
    },
    "pressure": {
        "Pa": 1, "hPa": 1e2, "kPa": 1e3, "MPa": 1e6, "mbar": 1e2, "bar": 1e5,
        "mmH2O": WATER_COLUMN_PA, "inH2O": 25.4 * WATER_COLUMN_PA, "psi": PSI_PA,
    },
    "flow_resistance": {
        "Pa/(m3/s)2": 1, "Pa/(m3/h)2": 3600.0**2, "Pa/(L/s)2": 1e6, "Pa/(L/min)2": 60e3**2,
        "kPa/(L/min)2": 1e3 * 60e3**2, "Pas2/m6": 1,
    },
    "fraction": {"": 1, "%": 1e-2, "ppm": 1e-6},
    "fraction_rate": {"1/s": 1, "%/s": 1e-2, "%/min": 1e-2 / 60, "1/min": 1 / 60},
    "fraction_per_kelvin": {"1/K": 1, "%/K": 1e-2},
    "drift": {"1/K": 1, "ppm/K": 1e-6, "ppb/K": 1e-9, "%/K": 1e-2},
    "rotation": {"1/s": 1, "rev/s": 1, "Hz": 1, "rpm": 1 / 60, "1/min": 1 / 60, "rev/min": 1 / 60},
    "level": {"dB(A)": 1, "dB": 1, "dBA": 1},
    "band_level": {"dB": 1},  # unweighted
    "mass": {"kg": 1, "g": 1e-3, "mg": 1e-6},
    "angle": {"rad": 1, "deg": radians(1)},
    "permeation": {"kg/ms": 1, "g/md": 1e-3 / 86400, "mg/md": 1e-6 / 86400},
    "leak_rate": {"Pam3/s": 1, "mbarL/s": 0.1, "mbarl/s": 0.1, "sccm": SCCM},  # of gas counted at 20 °C
    "voltage": {"V": 1, "mV": 1e-3, "kV": 1e3},
    "current": {"A": 1, "mA": 1e-3, "uA": 1e-6},
}  # fmt: skip
_TEMPERATURE: dict[str, Callable[[float], float]] = {
    "degC": lambda t: t,
    "C": lambda t: t,
    "K": lambda t: t - ZERO_CELSIUS_K,
    "degF": lambda t: (t - 32.0) / 1.8,
    "F": lambda t: (t - 32.0) / 1.8,
}
_EXAMPLES = {
    "length": "1.6 mm", "area": "25 cm2", "volume": "150 mL", "time": "30 min", "power": "35 W",
    "flux": "500 W/m2", "power_density": "50 kW/m3", "temperature": "23 degC", "difference": "0.5 K",
    "conductivity": "25 W/mK",
    "film": "9 W/m2K", "resistivity": "20 mm2K/W", "resistance": "1.5 K/W", "conductance": "14 W/K",
    "heat_capacity": "160 J/K", "volumetric_heat": "2.0 MJ/m3K", "specific_heat": "900 J/kgK",
    "density": "2700 kg/m3", "flow": "0.8 L/min", "pressure": "38 Pa",
    "flow_resistance": "0.012 Pa/(m3/h)2", "fraction": "45 %", "fraction_rate": "5 %/s",
    "fraction_per_kelvin": "5 %/K", "drift": "4 ppm/K",
    "rotation": "3600 rpm", "level": "29 dB(A)", "band_level": "46 dB", "mass": "1.2 kg",
    "angle": "30 deg", "permeation": "0.2 g/md",
    "leak_rate": "0.05 sccm", "voltage": "24 V", "current": "1.5 A",
}  # fmt: skip
DIMENSIONS = tuple(_EXAMPLES)

_NUMBER = re.compile(r"([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*)", re.DOTALL)
_NOT_FINITE = re.compile(r"[+-]?(?:nan|inf(?:inity)?)\b", re.IGNORECASE)
_SEPARATOR = re.compile(r"\s*[,x×]\s*")
_SPELLING = str.maketrans({"²": "2", "³": "3", "µ": "u", "μ": "u"} | dict.fromkeys("^·⋅*"))


def quantity(value: Any, dimension: str) -> float:
    """Read a quantity, SI (temperatures °C, rotation rev/s, levels dB, fractions 0 to 1).

    `value` is text such as "1.6 mm"; a bare number only where the dimension is "fraction".
    Raises `UnitError` with a message for the user.
    """
    number, unit = _split(value)
    if unit is None or (unit == "" and dimension != "fraction"):
        if dimension == "fraction":
            return _sensible(number, str(value))
        raise UnitError(f"needs a unit, for example {_example(dimension)}")
    text = str(value).strip()
    return _sensible(_convert(number, unit, dimension, text), text)


def _split(value: Any) -> tuple[float, str | None]:
    """Number and unit as written; no unit (None) for a bare number."""
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise UnitError(f'{_show(value)} is not a quantity: expected text such as "1.6 mm"')
    if isinstance(value, int | float):
        return _finite(float(value) if abs(value) < sys.float_info.max else inf, value), None
    text = value.strip().replace("−", "-")
    found = _NUMBER.fullmatch(text)
    if found is None:
        if _NOT_FINITE.match(text):
            raise UnitError(f"{text!r} is not a finite number")
        raise UnitError(f'{value!r} is not a quantity: expected a number and a unit, such as "1.6 mm"')
    number, unit = found.groups()
    if re.match(r",\s*\d", unit):
        raise UnitError(f"{text!r}: write one number, with a point and not a comma")
    return _finite(float(number), value), unit


def _finite(number: float, value: Any) -> float:
    if not isfinite(number):
        raise UnitError(f"{str(value)!r} is not a finite number")
    return number


def _sensible(number: float, text: str) -> float:
    """A number that a quantity of this trade may have in SI; others overflow further on."""
    if number and not SMALLEST <= abs(number) <= LARGEST:
        raise UnitError(f"{text!r} is too {'large' if abs(number) > 1 else 'small'} to be meant")
    return number


def _convert(number: float, unit: str, dimension: str, text: str) -> float:
    name = _spell(unit)
    if dimension == "temperature" and name in _TEMPERATURE:
        return _TEMPERATURE[name](number)
    if dimension != "temperature" and name in _TABLE[dimension]:
        return number * _TABLE[dimension][name]
    is_a = next((d for d, units in _dimensions().items() if name in units), None)
    if is_a is not None:
        raise UnitError(
            f"{text!r} is {_article(is_a)}; expected {_article(dimension)}, for example {_example(dimension)}"
        )
    nearest = _nearest_unit(name, dimension)
    hint = f'did you mean "{nearest}"?' if nearest else f"expected for example {_example(dimension)}"
    raise UnitError(f"unknown unit {unit!r} in {text!r}; {hint}")


def converter(unit: str, dimension: str) -> Callable[[Numbers], Numbers]:
    """What turns numbers (arrays too) in this unit into SI (°C). Raises `UnitError` where it is no such unit."""
    _convert(0.0, unit, dimension, unit)
    name = _spell(unit)
    if dimension == "temperature":
        return cast("Callable[[Numbers], Numbers]", _TEMPERATURE[name])
    size = _TABLE[dimension][name]
    return lambda numbers: numbers * size


def is_unit(unit: str, dimension: str | None = None) -> bool:
    """Whether this is a unit of the dimension, or of any."""
    known = _dimensions()
    return any(_spell(unit) in known[one] for one in ([dimension] if dimension else known))


def is_same(unit: str, other: str) -> bool:
    """Whether two spellings are of one unit, "°C" and "degC"."""
    return _spell(unit) == _spell(other)


def _spell(unit: str) -> str:
    """One spelling for each unit: "W/(m² K)" and "W/m2/K" both become "W/m2K"."""
    name = re.sub(r"\s+", "", unit.translate(_SPELLING)).replace("°", "deg")
    name = re.sub(r"/\(([^()/]+)\)$", r"/\1", name)
    return re.sub(r"^([^()]+/[^()]+)/K$", r"\1K", name)


def _dimensions() -> dict[str, Iterable[str]]:
    return {"temperature": _TEMPERATURE, **_TABLE}


def _nearest_unit(name: str, dimension: str) -> str | None:
    mine = list(_dimensions()[dimension])
    for known in (mine, [unit for units in _dimensions().values() for unit in units]):
        same = [unit for unit in known if unit and unit.lower() == name.lower()]
        close = same or get_close_matches(name, [unit for unit in known if unit], 1, 0.6)
        if close:
            return close[0]
    return None


def _article(dimension: str) -> str:
    words = dimension.replace("_", " ")
    return f"{'an' if words[0] in 'aeiou' else 'a'} {words}"


def _example(dimension: str) -> str:
    return f'"{_EXAMPLES[dimension]}"'


def example(dimension: str, count: int = 1) -> str:
    """A quantity (or `count` of them) of this dimension as a user would write it."""
    if count == 1:
        return _EXAMPLES[dimension]
    numbers = ("140", "90", "20")[:count] if count <= 3 else tuple(str(46 - 3 * k) for k in range(count))
    return f"{', '.join(numbers)} {_EXAMPLES[dimension].partition(' ')[2]}"


def base_unit(dimension: str) -> str:
    """The unit of the floats that `quantity` gives."""
    return next(iter(_dimensions()[dimension]))


def _show(value: Any) -> str:
    return {True: "true", False: "false"}[value] if isinstance(value, bool) else f"{value!r}"


def tuple_of(value: Any, dimension: str, count: int) -> tuple[float, ...]:
    """Read `count` quantities: "140, 90 mm", "30 x 30 mm", "1 m, 90 mm", or a list of quantities."""
    pieces = _SEPARATOR.split(value.strip()) if isinstance(value, str) else value
    if not isinstance(pieces, list | tuple) or len(pieces) != count:
        found = f"; found {len(pieces)}" if isinstance(pieces, list | tuple) else ""
        raise UnitError(f'expected {count} {dimension}s, for example "{example(dimension, count)}"{found}')
    if not isinstance(value, str):
        return tuple(quantity(piece, dimension) for piece in pieces)
    unit = _split(pieces[-1])[1]
    return tuple(quantity(piece if _split(piece)[1] else f"{piece} {unit}", dimension) for piece in pieces)


def points(values: Any, dimensions: tuple[str, str]) -> tuple[tuple[float, float], ...]:
    """Read a curve: ["0 m3/h, 38 Pa", "30 m3/h, 0 Pa"] gives pairs in SI."""
    return many(values, lambda value: _point(value, dimensions))


def _point(value: Any, dimensions: tuple[str, str]) -> tuple[float, float]:
    pieces = value.split(",") if isinstance(value, str) else value
    if not isinstance(pieces, list | tuple) or len(pieces) != 2:
        both = ", ".join(_EXAMPLES[dimension] for dimension in dimensions)
        raise UnitError(f'expected a pair, for example "{both}"')
    first, second = (quantity(piece, dimension) for piece, dimension in zip(pieces, dimensions, strict=True))
    return first, second


def many(values: Any, read: Callable[[Any], T]) -> tuple[T, ...]:
    """Read a list, each item by `read`; an error says which item it is."""
    if not isinstance(values, list | tuple):
        raise UnitError("expected a list")
    found = []
    for number, value in enumerate(values, start=1):
        try:
            found.append(read(value))
        except UnitError as error:
            raise UnitError(f"point {number}: {error}") from None
    return tuple(found)


# For output: (size of the unit, its name), the first that the value reaches; the last is for anything less.
_OUTPUT: dict[str, tuple[tuple[float, str], ...]] = {
    "length": ((1, "m"), (1e-3, "mm")),
    "area": ((1, "m²"), (1e-4, "cm²")),
    "volume": ((1e-3, "L"), (1e-6, "mL")),
    "time": ((7200, "h"), (120, "min"), (1, "s")),
    "flow": ((0.3 / 3600, "m³/h"), (1e-3 / 60, "L/min")),
    "pressure": ((1e3, "kPa"), (1, "Pa")),
    "fraction": ((1e-2, "%"),),
    "fraction_rate": ((1e-2, "%/s"),),
    "fraction_per_kelvin": ((1e-2, "%/K"),),
    "drift": ((1e-6, "ppm/K"),),
    "rotation": ((1 / 60, "rpm"),),
    "resistivity": ((1e-6, "mm²K/W"),),
    "flow_resistance": ((3600.0**2, "Pa/(m³/h)²"),),
    "volumetric_heat": ((1e6, "MJ/m³K"),),
    "mass": ((1, "kg"), (1e-3, "g")),
    "leak_rate": ((SCCM, "sccm"),),
    "angle": ((radians(1), "°"),),
    "permeation": ((1e-3 / 86400, "g/md"),),
}


def format_quantity(value: float, dimension: str) -> str:
    """A value as `quantity` gives it, in everyday units: "35 W", "23.4 °C", "29.5 m³/h", "0.58 L/min".

    Flows under 0.3 m³/h are taken for coolant and given in L/min.
    """
    if dimension == "temperature":
        return f"{value:.1f} °C"
    scales = _OUTPUT.get(dimension, ((1.0, base_unit(dimension).replace("2", "²").replace("3", "³")),))
    from_, unit = next((scale for scale in scales if abs(value) >= scale[0]), scales[-1])
    return f"{_digits(value / _TABLE[dimension].get(_spell(unit), from_))} {unit}"


def _digits(number: float) -> str:
    return f"{number:.0f}" if abs(number) >= 1000 else f"{number:.3g}"
