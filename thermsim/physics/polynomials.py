"""Property polynomials: read the shipped coefficient tables and evaluate them fast.

A table row is ``fluid,property,power_of_t,power_of_x,coefficient`` in the scaled variables
t = (T - T_mid)/T_half and x = (w - 0.3)/0.3, where w is the mass fraction. `data/make_tables.py` writes them.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from importlib.resources import files

from .basics import Number

# middle and half width of the temperature span (°C) over which each fluid was fitted
SPAN_DEGC = {
    "air": (110.0, 190.0),
    "water": (50.0, 50.0),
    "ethylene glycol": (30.0, 70.0),
    "propylene glycol": (30.0, 70.0),
}
FRACTION_MID, FRACTION_HALF = 0.3, 0.3

Table = dict[tuple[str, str], dict[tuple[int, int], float]]


def read_polynomials(name: str) -> Table:
    """Coefficients of one shipped file: {(fluid, property): {(power of t, power of x): coefficient}}."""
    table: Table = {}
    with files("thermsim.physics.data").joinpath(name).open(encoding="utf-8") as stream:
        for row in csv.DictReader(line for line in stream if not line.startswith("#")):
            powers = int(row["power_of_t"]), int(row["power_of_x"])
            table.setdefault((row["fluid"], row["property"]), {})[powers] = float(row["coefficient"])
    return table


def horner(coefficients: tuple[float, ...], variable: Number) -> Number:
    """Sum of coefficients[i]·variable^i."""
    total = 0.0 * variable + coefficients[-1]
    for coefficient in reversed(coefficients[:-1]):
        total = total * variable + coefficient
    return total


@dataclass(frozen=True)
class Polynomial:
    """A property as a polynomial in temperature, at one mass fraction."""

    mid_degc: float
    half_degc: float
    coefficients: tuple[float, ...]

    @classmethod
    def of_temperature(cls, table: Table, fluid: str, quantity: str, fraction: float = 0.0) -> Polynomial:
        """Fold the mass fraction into the coefficients, leaving a polynomial in temperature alone."""
        x = (fraction - FRACTION_MID) / FRACTION_HALF
        folded: dict[int, float] = {}
        for (power_of_t, power_of_x), coefficient in table[fluid, quantity].items():
            folded[power_of_t] = folded.get(power_of_t, 0.0) + coefficient * x**power_of_x
        return cls(*SPAN_DEGC[fluid], tuple(folded.get(i, 0.0) for i in range(max(folded) + 1)))

    def __call__(self, temperature_degc: Number) -> Number:
        return horner(self.coefficients, (temperature_degc - self.mid_degc) / self.half_degc)
