"""Leak tests made up for the tests: an empty case with `[leak]`, and logs of a loop that leaks as told."""

import numpy as np

from thermsim.case import Case

SETTINGS = {
    "volume": "150 mL", "volume_uncertainty": "5 mL", "resolution": "10 Pa", "gauge_uncertainty": "15 Pa",
    "limit": "0.05 sccm",
}  # fmt: skip
SCCM_PA = 101_325e-6 / 60 * 293.15 / 273.15  # Pa·m³/s at 20 °C, by the ideal gas law


def leak_case(path=None, **more):
    """A case with nothing but a leak test; None takes a setting away."""
    table = {key: value for key, value in (SETTINGS | more).items() if value is not None}
    tables = {"case": {"title": "a loop"}, "room": {"temperature": "20 degC"}, "leak": table}
    return Case.from_dict(tables, "loop.toml")


def write_log(path, sccm=0.0, minutes=45.0, seed=1, fills_pa=0.0, noise_pa=5.0, start_pa=150_000.0, warms_k=0.3):
    """A log every 10 s of 150 mL: warms and leaks evenly, at first gives way with ten minutes' time constant."""
    rng, time = np.random.default_rng(seed), np.arange(0.0, 60 * minutes + 1, 10.0)
    degc = 22.0 + warms_k * time / time[-1]
    counted = start_pa * 293.15 / 295.15 - sccm * SCCM_PA / 150e-6 * time - fills_pa * (1 - np.exp(-time / 600))
    pressure = counted * (degc + 273.15) / 293.15 + rng.normal(0, noise_pa, time.size)
    rows = [f"{t:.0f},{p:.1f},{d:.2f}" for t, p, d in zip(time, pressure, degc, strict=True)]
    path.write_text("\n".join(["time [s],pressure [Pa],temperature [degC]", *rows]) + "\n", encoding="utf-8")
    return str(path)
