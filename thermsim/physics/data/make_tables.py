"""Write the coolant and air property tables of this folder from CoolProp.

Run ``python -m thermsim.physics.data.make_tables`` after installing CoolProp. Sources behind CoolProp:
water IAPWS-95 and the IAPWS 2008/2011 transport releases, at one atmosphere; ethylene and propylene glycol in
water (by mass, 0 to 60 %) Melinder, "Properties of Secondary Working Fluids for Indirect Systems", IIR 2010
(its own polynomial form, so the fit is exact); dry air Lemmon et al. 2000 and Lemmon & Jacobsen 2004.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable
from pathlib import Path

import numpy as np

from ..basics import STANDARD_ATMOSPHERE_PA, ZERO_CELSIUS_K, FloatArray
from ..polynomials import FRACTION_HALF, FRACTION_MID, SPAN_DEGC

HERE = Path(__file__).parent
SYMBOLS = {"density": "D", "cp": "C", "conductivity": "L", "log_viscosity": "V", "viscosity": "V"}
GLYCOLS = {"ethylene glycol": "MEG", "propylene glycol": "MPG"}
Row = tuple[str, str, int, int, str]
Coefficients = dict[tuple[int, int], float]


def reference(name: str, quantity: str, temperature_degc: float) -> float:
    """One property by CoolProp at one atmosphere (mixtures slightly above, so that they stay liquid)."""
    from CoolProp.CoolProp import PropsSI

    pressure = 1e6 if name.startswith("INCOMP") else STANDARD_ATMOSPHERE_PA
    value = float(PropsSI(SYMBOLS[quantity], "T", temperature_degc + ZERO_CELSIUS_K, "P", pressure, name))
    return float(np.log(value)) if quantity == "log_viscosity" else value


def freezing_degc(glycol: str, fraction: float) -> float:
    """Freezing point of a glycol mixture by CoolProp, °C."""
    from CoolProp.CoolProp import PropsSI

    name = f"INCOMP::{GLYCOLS[glycol]}[{fraction}]"
    return float(PropsSI("T_FREEZE", "T", 300.0, "P", 1e5, name)) - ZERO_CELSIUS_K


def fit(t: FloatArray, x: FloatArray, y: FloatArray, degree_t: int, degree_x: int) -> Coefficients:
    """Least-squares coefficients of t^i·x^j."""
    powers = [(i, j) for i in range(degree_t + 1) for j in range(degree_x + 1)]
    matrix = np.stack([t**i * x**j for i, j in powers], axis=1)
    solution = np.linalg.lstsq(matrix, y, rcond=None)[0]
    return dict(zip(powers, solution.tolist(), strict=True))


def rows(fluid: str, quantity: str, coefficients: Coefficients) -> Iterable[Row]:
    """Table rows of one property."""
    return ((fluid, quantity, i, j, f"{value:.15g}") for (i, j), value in coefficients.items())


def pure(fluid: str, name: str, quantities: Iterable[str], degree: int) -> Iterable[Row]:
    """Rows of a fluid without a mass fraction."""
    middle, half = SPAN_DEGC[fluid]
    t = np.cos(np.linspace(0.0, np.pi, 200))  # crowded at the ends, so the worst error is small
    temperatures = np.clip(middle + half * t, 0.01, 99.95) if fluid == "water" else middle + half * t
    t = (temperatures - middle) / half
    for quantity in quantities:
        values = np.array([reference(name, quantity, value) for value in temperatures])
        yield from rows(fluid, quantity, fit(t, np.zeros_like(t), values, degree, 0))


def mixture(glycol: str) -> Iterable[Row]:
    """Rows of a glycol and water, with its freezing point."""
    middle, half = SPAN_DEGC[glycol]
    fractions = np.linspace(0.0, 0.6, 25)
    x = (fractions - FRACTION_MID) / FRACTION_HALF
    freezing = np.array([freezing_degc(glycol, fraction) for fraction in fractions])
    yield from rows(glycol, "freezing", fit(np.zeros_like(x), x, freezing, 0, 5))
    points = [
        (fraction, temperature)
        for fraction, lowest in zip(fractions, freezing, strict=True)
        for temperature in np.linspace(lowest + 0.01, 99.9, 41)
    ]
    w, temperatures = np.array(points).T
    for quantity in ("density", "cp", "conductivity", "log_viscosity"):
        values = np.array([reference(f"INCOMP::{GLYCOLS[glycol]}[{f}]", quantity, t) for f, t in points])
        t, x = (temperatures - middle) / half, (w - FRACTION_MID) / FRACTION_HALF
        yield from rows(glycol, quantity, fit(t, x, values, 3, 5))


def write(name: str, make: Callable[[], Iterable[Row]]) -> None:
    """Write one table."""
    with (HERE / name).open("w", encoding="utf-8", newline="") as stream:
        stream.write("# made by make_tables.py from CoolProp; SI, log_viscosity is ln(Pa·s), freezing °C\n")
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(("fluid", "property", "power_of_t", "power_of_x", "coefficient"))
        writer.writerows(make())


def liquids() -> Iterable[Row]:
    """Water and the glycols."""
    yield from pure("water", "Water", ("density", "cp", "conductivity", "log_viscosity"), 8)
    for glycol in GLYCOLS:
        yield from mixture(glycol)


if __name__ == "__main__":
    write("liquids.csv", liquids)
    write("air.csv", lambda: pure("air", "Air", ("cp", "viscosity", "conductivity"), 5))
