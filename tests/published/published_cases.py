"""Small case files for checks against published values, and ways to read their answers."""

import numpy as np
from scipy.interpolate import RegularGridInterpolator

from thermsim.case import Case
from thermsim.model.build import build
from thermsim.model.system import Model
from thermsim.solve.engine import Engine, Start, course
from thermsim.solve.ledger import outflows
from thermsim.solve.steady import Steady, SteadySolver
from thermsim.solve.transient import Transient
from thermsim.studies.run import calm_stretch, steady_at_end

THIN = "1e9 W/mK"  # through conductivity of an ideally thin sheet: no half-thickness resistance


def model_of(cell: float = 0.005, room: float | dict = 0.0, start: float | None = None, **tables) -> Model:
    """The model of a case given as tables; `cell` m, `room` (or its table) and `start` °C."""
    run = {"cell": f"{cell} m", "merge": "1e-7 m"}
    if start is not None:
        run["start"] = f"{start} degC"
    about = {
        "case": {"title": "check"},
        "room": room if isinstance(room, dict) else {"temperature": f"{room} degC"},
    }
    return build(Case.from_dict(about | {"run": run} | tables))


def sheet(length: float, width: float, thickness: float, k: float, heat: float = 2e6, **more) -> dict:
    """A sheet's table: m, W/mK, J/m³K."""
    stated = {
        "corner": "0, 0 m", "size": f"{length} x {width} m", "thickness": f"{thickness} m",
        "conductivity": f"{k} W/mK", "conductivity_through": THIN, "heat_density": f"{heat} J/m3K",
    }  # fmt: skip
    return stated | more


def film(h: float, on: str = "sheet.s", **more) -> dict:
    """A fixed film, W/m²K."""
    return {"on": on, "law": "fixed", "h": f"{h} W/m2K", **more}


def held(side: str, degc: float, on: str = "sheet.s", **more) -> dict:
    """An edge held at a temperature, °C."""
    return {"on": on, "side": side, "temperature": f"{degc} degC", **more}


def rectangle(left: float, front: float, width: float, depth: float) -> dict:
    """Corner and size of a rectangle, m."""
    return {"corner": f"{left}, {front} m", "size": f"{width} x {depth} m"}


def field(model: Model, temperature, address: str = "sheet.s"):
    """Temperatures of a sheet's cells, shape (rows, columns)."""
    return temperature[model.site.sheets[address].node]


def at(model: Model, temperature, x, y, address: str = "sheet.s"):
    """Temperature of a sheet at points (m), linear between cell centres and beyond the outermost."""
    centre_x, centre_y = model.site.sheets[address].centres
    values = field(model, temperature, address)
    if centre_y.size == 1:
        return RegularGridInterpolator((centre_x,), values[0], bounds_error=False, fill_value=None)(np.atleast_1d(x))
    look = RegularGridInterpolator((centre_y, centre_x), values, bounds_error=False, fill_value=None)
    points = np.broadcast_arrays(np.asarray(y, float), np.asarray(x, float))
    return look(np.stack([p.ravel() for p in points], axis=-1)).reshape(points[0].shape)


def history(model: Model, times, tolerance: float = 1e-3, start=None, engine: Engine = "full"):
    """Temperatures of all nodes at rising times (s), shape (times, nodes); a given start needs the full engine."""
    wanted, found = list(times), []
    steps, dynamics = steps_of(model, wanted[-1], tolerance, engine, start)
    for step in steps:
        while len(found) < len(wanted) and wanted[len(found)] <= step.last.time + 1e-9:
            found.append(dynamics.field(step.at(wanted[len(found)])))
    return np.array(found)


def steps_of(model: Model, end: float, tolerance: float, engine: Engine = "full", start=None):
    """Steps of a history by an engine, and the dynamics that read their states. The reduced one must get there."""
    if engine == "full":
        whole = Transient.of(model, tolerance, start)
        return whole.steps(end), whole.dynamics
    assert start is None
    timed = build(model.case.with_changes({"run.duration": f"{end} s", "run.tolerance": f"{tolerance} K"}))
    solver = SteadySolver(timed)
    calm = solver.solve(sum(calm_stretch(timed)) / 2)
    last = steady_at_end(timed, calm)
    taken = course(Start(timed, [calm] if last is None or last is calm else [calm, last], solver.factor))
    assert taken.fell_back is None
    return taken.steps, taken.history.dynamics


def leaving(model: Model, steady: Steady) -> dict[str, float]:
    """Watts that leave by each film, edge and stream in a steady state."""
    return outflows(model, steady.conditions, steady.strengths)


def node(model: Model, address: str) -> int:
    """The one node of a part, wall, sink or rim."""
    (number,) = model.numbers(address)
    return int(number)
