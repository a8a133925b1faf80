"""Break one line of the physics at a time in a private copy, and see `verify` find it.

    python -m tests.verify.mutations [--only WORD]

Each mutation is a file of the package, a text that stands in it once, and what is put in its place. A figure of the
named check must turn red. Prints a line each: red figures of all, and of which checks. Exit status 1 if one survives.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

PACKAGE = Path(__file__).parents[2] / "thermsim"
RUN = "import sys; from thermsim.cli import main; sys.argv = ['thermsim', 'verify', *sys.argv[1:]]; main()"

MUTATIONS = {  # what is broken: file, text, in its place, a check that must find it
    "harmonic mean across unlike cells": (
        "model/sheets.py", ".harmonicFaceValue",
        ".arithmeticFaceValue", "unlike_halves",
    ),
    "half a cell at an edge": ("model/edges.py", "* length / (depth / 2)", "* length / depth", "plane_wall"),
    "half a sheet's thickness": (
        "model/sheets.py", "thickness / 2 / through",
        "thickness / 4 / through", "series_wall",
    ),
    "half thicknesses in a joint": (
        "model/joints.py", "(_resistivity(joint) + half)",
        "_resistivity(joint)", "series_wall",
    ),
    "contact of a joint": ("model/joints.py", "joint.contact or 0.0", "0.0", "paste"),
    "fourth power of radiation": ("physics/films.py", "(t1 + t2) * (t1 * t1 + t2 * t2)", "4 * t1**3", "radiating_bar"),
    "facing plates": ("physics/films.py", "1.0 / (1.0 / e1 + 1.0 / e2 - 1.0)", "e1 * e2", "facing_plates"),
    "weight of a time step's first stage": ("solve/tr_bdf2.py", "W = sqrt(2) / 4", "W = sqrt(2) / 4.2", "two_nodes"),
    "heat that is stored": (
        "model/sheets.py", "capacity = heat * thickness * area",
        "capacity = heat * area", "oven_panel",
    ),
    "copper of a board": (
        "physics/boards.py", "share * k_copper + (1.0 - share) * k_laminate)",
        "share * k_copper)", "board_layers",
    ),
    "density of heat": (
        "model/sources.py", "extent = extent * sheet.thickness",
        "extent = extent / sheet.thickness", "unlike_halves",
    ),
    "direction of coolant": (
        "model/loops.py", "way[1:], way[:-1], 1 / grooves",
        "way[:-1], way[1:], 1 / grooves", "warm_channel",
    ),
    "what coolant carries": (
        "model/operating.py", "* self.liquid.density * self.liquid.cp",
        "* self.liquid.density * 4100", "kilowatt_in_a_litre",
    ),
    "what air carries": ("model/operating.py", "self.flow * self.state.density", "self.flow * 1.2", "air_that_warms"),
    "air that goes on": (
        "model/airways.py", "np.r_[feed, chain[:-1]]",
        "np.r_[feed, np.full(len(chain) - 1, feed)]", "air_along_a_board",
    ),
    "start of the full engine": (
        "solve/transient.py", "(FullDynamics(model), model.start() if",
        "(FullDynamics(model), 1.01 * model.start() if", "pipe_wall",
    ),
    "laminar friction of a duct": ("physics/ducts.py", "a * (1.3553 - a", "a * (1.4553 - a", "duct_shapes"),
    "laminar film of a duct": ("physics/ducts.py", "a * (2.610 - a", "a * (2.710 - a", "duct_shapes"),
    "loss where a bore widens": (
        "physics/losses.py", "(1.0 - diameter_ratio**2) ** 2",
        "1.0 - diameter_ratio**2", "bore_changes",
    ),
    "counter-flow": (
        "physics/exchangers.py", "(1.0 - capacity_ratio + capacity_ratio * approach)",
        "1.0", "radiators",
    ),
    "cross-flow": (
        "physics/exchangers.py", "gammainc(order, other)) / other",
        "gammainc(order + 1, other)) / other", "radiators",
    ),
    "pressure of a fan by its speed": ("model/operating.py", "rise * top * top", "rise * top", "fan_and_passage"),
    "pressure of a pump by its speed": (
        "physics/curves.py", "speed * speed * count_series",
        "speed * count_series", "pump_and_loop",
    ),
    "still air on an upright plate": ("physics/films.py", "0.825 + 0.387 * ra", "0.825 + 0.378 * ra", "fire_screen"),
    "still air over a level plate": (
        "physics/films.py", "nu: Number = 0.27 * ra",
        "nu: Number = 0.25 * ra", "plates_in_still_air",
    ),
    "efficiency of fins": ("physics/fins.py", "tanh(mh) / mh if", "1.0 if", "finned_sink"),
    "pore of a wick": ("physics/heat_pipes.py", "0.41 * sphere_radius", "0.5 * sphere_radius", "heat_pipe_wick"),
    "noise by speed": ("physics/acoustics.py", "50.0 * log10(ratio)", "55.0 * log10(ratio)", "fans_together"),
    "power to pressure": (
        "physics/acoustics.py", "power_level - 10.0 * log10(area)",
        "power_level - 9.0 * log10(area)", "sound_power",
    ),
    "temperature in a leak test": (
        "physics/pressure_decay.py", "last.pressure * first.kelvin / last.kelvin",
        "last.pressure", "leak_while_cooling",
    ),
    "humidity in a dew point": (
        "physics/moist_air.py", "GetTDewPointFromRelHum(temperature_degc, relative_humidity)",
        "GetTDewPointFromRelHum(temperature_degc, 0.9 * relative_humidity)", "dew_point",
    ),
    "a criterion's window": (
        "solve/settle.py", '"3 K in 30 min", 3.0, 1800.0',
        '"3 K in 30 min", 3.0, 1500.0', "steady_criteria",
    ),
}  # fmt: skip


def applies(name: str) -> bool:
    """Whether the text that a mutation replaces still stands in its file, once."""
    file, old, _, _ = MUTATIONS[name]
    return (PACKAGE / file).read_text(encoding="utf-8").count(old) == 1


def red_figures(name: str, everything: bool = True) -> list[dict]:
    """Figures not met when this is broken, of all checks or of the one named."""
    file, old, new, check = MUTATIONS[name]
    with TemporaryDirectory(prefix="thermsim-mutation-") as folder:
        copy = Path(folder) / "thermsim"
        shutil.copytree(PACKAGE, copy, ignore=shutil.ignore_patterns("__pycache__"))
        text = (copy / file).read_text(encoding="utf-8")
        (copy / file).write_text(text.replace(old, new), encoding="utf-8")
        asked = [] if everything else [check]
        done = subprocess.run(
            [sys.executable, "-c", RUN, *asked, "--json", "-o", f"{folder}/out"], cwd=folder, capture_output=True,
            text=True, env=os.environ | {"PYTHONPATH": folder, "OMP_NUM_THREADS": "1"}, check=False,
        )  # fmt: skip
        rows = json.loads(done.stdout)["rows"]
    assert done.returncode == int(any(not row["passed"] for row in rows))
    return [row for row in rows if not row["passed"]]


def main() -> int:
    """Try every mutation."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", default="", help="those whose name holds this word")
    parser.add_argument("--named", action="store_true", help="ask only the check that is named, which is quicker")
    arguments = parser.parse_args()
    survivors = []
    for name, (_, _, _, check) in MUTATIONS.items():
        if arguments.only not in name:
            continue
        red = red_figures(name, not arguments.named)
        found = sorted({row["check"] for row in red})
        print(f"{name}: {len(red)} red, in {', '.join(found) or 'none'}", flush=True)
        if check not in found:
            survivors.append(name)
    print(f"not found: {', '.join(survivors) or 'none'}")
    return int(bool(survivors))


if __name__ == "__main__":
    sys.exit(main())
