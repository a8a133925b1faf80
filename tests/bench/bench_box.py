"""A bench that is known: two lumped parts, their logs made by the model itself with what the case does not know."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from thermsim.bench.readings import modelled
from thermsim.case import Case

CASE = """
[case]
title = "two parts on a bench"
invented = true
[room]
temperature = "21 degC"
humidity = "45 %"
[run]
duration = "30 min"
[part.a]
watts = "5 W"
heat_capacity = "30 J/K"
limit = "60 degC"
[part.b]
watts = "2 W"
heat_capacity = "60 J/K"
size = "100 x 100 mm"
[joint.ab]
between = ["part.a", "part.b"]
resistance = "2 K/W"
[film.f]
on = "part.b"
law = "fixed"
h = "50 W/m2K"
[uncertain.paste]
of = "joint.ab.resistance"
spread = "10 %"
[uncertain.film]
of = "film.f.h"
spread = "5 %"
[option.pasted]
set = { "joint.ab.resistance" = "0.5 K/W" }
[bench.columns]
"A [°C]" = "part.a"
"B [°C]" = "part.b"
"Room 1 [°C]" = "room"
"Room 2 [°C]" = "room"
"Room 3 [°C]" = "room"
"Supply [W]" = "supply.watts"
"""
RUN = '[bench.run."{name}"]\nfile = "{name}.csv"\nstands = "{stands}"\n{option}\n'
SCATTER = 0.05  # K from run to run


def bench_box(
    folder: Path,
    planted: dict[str, Any],
    runs: int = 3,
    minutes: float = 30.0,
    more: str = "",
    seed: int = 1,
    always: bool = False,
) -> Path:
    """Write a case and its logs; `planted`: what the box has otherwise than the case, after the change or `always`."""
    rng = np.random.default_rng(seed)
    text = CASE + more
    for stands, option in (("before", None), ("after", "pasted")):
        for k in range(1, runs + 1):
            name = f"{stands} {k}"
            text += RUN.format(name=name, stands=stands, option=f'option = "{option}"' if option else "")
            truth = Case.from_text(CASE, option=option)
            truth = truth.with_changes({**(planted if option or always else {}), "run.duration": f"{minutes} min"})
            write_log(folder / f"{name}.csv", truth, minutes, rng)
    path = folder / "case.toml"
    path.write_text(text, encoding="utf-8")
    return path


def write_log(path: Path, truth: Case, minutes: float, rng: np.random.Generator, step: float = 10.0) -> None:
    """One run of a box, with the noise of its probes and a shift of its own."""
    time = np.arange(0.0, 60.0 * minutes + step / 2, step)
    told = modelled(truth, ["part.a", "part.b", "supply.watts"], time)
    shift = rng.normal(0.0, SCATTER) * told["part.a"] / 40.0
    columns = [time, *(told[name] + shift + rng.normal(0, 0.05, time.size) for name in ("part.a", "part.b"))]
    columns += [truth.spec.room.temperature + rng.normal(0.0, 0.05, time.size) for _ in range(3)]
    columns += [told["supply.watts"] + rng.normal(0, 0.02, time.size)]
    head = "Time [s],A [°C],B [°C],Room 1 [°C],Room 2 [°C],Room 3 [°C],Supply [W]"
    rows = "\n".join(",".join(f"{value:.3f}" for value in row) for row in np.array(columns).T)
    path.write_text(f"{head}\n{rows}\n", encoding="utf-8")
