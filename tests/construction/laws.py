"""What must hold for any box: each law takes a seed, makes a random box of it and raises `AssertionError` if it fails.

First law, maximum principle, symmetry, linearity and superposition, reciprocity with the streams reversed, heat of a
stream, refinement (any text on heat conduction, such as Carslaw & Jaeger, Conduction of Heat in Solids).
"""

from collections.abc import Callable

import numpy as np
from boxes import (
    Tables,
    built,
    finer,
    idle,
    loaded,
    mirrored,
    of_fixed_laws,
    of_metal,
    random_tables,
    shuffled,
    with_streams_reversed,
    without_courses,
)
from courses import SOON
from published_cases import field
from random_plan import Draw
from scipy.sparse.linalg import splu

from thermsim.model.arrays import Floats
from thermsim.model.system import Model
from thermsim.solve.engine import Engine, Start, course
from thermsim.solve.factor import NoPath
from thermsim.solve.ledger import outflows
from thermsim.solve.steady import Steady, SteadySolver, solve_steady
from thermsim.solve.transient import Transient
from thermsim.studies.run import calm_stretch, steady_at_end

TOLERANCE = 0.02  # K, of histories
ROUNDING = 1e-15
WARMER = 20.0  # K over the room, where strengths are taken for reciprocity


class Unfit(Exception):
    """The box has not what the law is about."""


def steady_of(model: Model) -> Steady:
    """Its steady state; `Unfit` where there is none."""
    try:
        return solve_steady(model)
    except NoPath as error:
        raise Unfit from error


def steps_of(tables: Tables, seconds: float, engine: Engine) -> tuple[Model, list, Callable]:
    """Steps of a box's history, and what reads temperatures from their states; `Unfit` where the engine gives up."""
    model = built(tables | {"run": tables["run"] | {"duration": f"{seconds} s", "tolerance": f"{TOLERANCE} K"}})
    if engine == "full":
        whole = Transient.of(model)
        return model, list(whole.steps(seconds)), whole.dynamics.field
    try:
        solver = SteadySolver(model)
        calm = solver.solve(sum(calm_stretch(model)) / 2)
        last = steady_at_end(model, calm)
    except NoPath as error:
        raise Unfit from error
    taken = course(Start(model, [calm] if last is None or last is calm else [calm, last], solver.factor))
    if taken.fell_back:
        raise Unfit
    return model, list(taken.steps), taken.history.dynamics.field


def unbalanced(step, content: float) -> float:
    """Heat supplied less rejected less stored, as a share of the largest; rounding of `content` (J) does not count."""
    left = abs(step.supplied - step.rejected - step.stored) - ROUNDING * content
    return max(left, 0.0) / max(abs(step.supplied), abs(step.rejected), abs(step.stored))


def content_of(model: Model) -> float:
    """Heat stored in a box since 0 °C, roughly, J."""
    return 50.0 * float(model.capacity.sum())


def sheets_of(model: Model) -> list[str]:
    """Addresses of all sheets."""
    return list(model.site.sheets)


def lumps_of(model: Model) -> list[str]:
    """Addresses of parts, sinks and walls."""
    return [name for name in model.site.builder.names if name.split(".")[0] in ("part", "sink", "wall", "block")]


def fixed_box(seed: int) -> Tables:
    """A random box whose K never moves."""
    tables = of_fixed_laws(random_tables(seed))
    if "loop" in tables:  # coolant is thinner when it is warm
        raise Unfit
    return tables


def first_law(seed: int, engine: Engine) -> None:
    """Supplied = rejected + stored in every step, to rounding where K does not move."""
    model, steps, _ = steps_of(fixed_box(seed), 300.0, engine)
    worst = max(unbalanced(step, content_of(model)) for step in steps)
    assert worst <= 1e-9, worst


def first_law_with_all(seed: int, engine: Engine) -> None:
    """The same with all that moves, as closely as the iterations settle."""
    model, steps, _ = steps_of(random_tables(seed), 60.0, engine)
    worst = max(unbalanced(step, content_of(model)) for step in steps)
    assert worst <= 5e-3, worst


def steady_balance(seed: int) -> None:
    """At rest what is supplied leaves by films, rims and streams: nothing is lost on the way, at exchangers say."""
    model = built(random_tables(seed))
    steady = steady_of(model)
    out = outflows(model, steady.conditions, steady.strengths)
    through = max(map(abs, [*out.values(), steady.inputs.supplied]))
    assert abs(steady.residual) <= 1e-6 * through, steady.residual
    assert abs(steady.inputs.supplied - sum(out.values())) <= 1e-6 * through, (steady.inputs.supplied, out)


def maximum_principle(seed: int, engine: Engine) -> None:
    """Without heat nothing leaves the range of start and surroundings; in a history by no more than its error."""
    tables = without_courses(idle(random_tables(seed)))
    start = Draw(seed).between(5, 90)  # water must not freeze
    tables["run"] = tables["run"] | {"start": f"{start} degC"}
    model, steps, fields = steps_of(tables, 300.0, engine)
    places = model.program.at(0.0, {}).places
    low, high = min(start, places.min()), max(start, places.max())
    for step in steps:
        if engine == "reduced" and step.last.time < SOON:
            continue  # its error is stated from then on
        found = fields(step.last.x)
        assert found.min() >= low - 2 * TOLERANCE, (found.min(), low, step.last.time)
        assert found.max() <= high + 2 * TOLERANCE, (found.max(), high, step.last.time)
    rest = steady_of(model).temperature
    assert rest.min() >= places.min() - 1e-6
    assert rest.max() <= places.max() + 1e-6


def mirror(seed: int) -> None:
    """The mirrored box has the mirrored steady field, in x and in y."""
    tables = without_courses(random_tables(seed))
    here = built(tables)
    one = steady_of(here).temperature
    for axis in (0, 1):
        there = built(mirrored(tables, axis))
        other = steady_of(there).temperature
        for address in sheets_of(here):
            cells = here.site.sheets[address].node
            turned = np.flip(field(there, other, address), 1 - axis)
            missed = np.abs(turned - field(here, one, address))[cells >= 0].max()
            assert missed <= 1e-4, (address, axis, missed)
        for address in lumps_of(here):
            missed = abs(float(other[there.numbers(address)[0]] - one[here.numbers(address)[0]]))
            assert missed <= 1e-4, (address, axis, missed)


def linear_in_power(seed: int) -> None:
    """Where K does not move, rises go with the heat."""
    tables, factor = fixed_box(seed), Draw(seed).log(0.1, 10)
    none, once, more = (steady_of(built(loaded(tables, by))).temperature for by in (0.0, 1.0, factor))
    assert np.allclose(more - none, factor * (once - none), rtol=1e-7, atol=1e-7)


def superposition(seed: int) -> None:
    """Where K does not move, what parts do together is the sum of what each does alone."""
    tables = fixed_box(seed)
    none, every = idle(tables), tables
    alone = []
    base = steady_of(built(none)).temperature
    for kind in ("part", "source", "edge", "fan"):
        for name in tables.get(kind, {}):
            one = none | {kind: none[kind] | {name: tables[kind][name]}}
            alone.append(steady_of(built(one)).temperature - base)
    assert np.allclose(steady_of(built(every)).temperature - base, sum(alone), rtol=1e-7, atol=1e-6)


def reciprocity(seed: int) -> None:
    """K/W from a to b is that from b to a with all streams reversed; strengths are those of one even field."""
    tables = without_courses(random_tables(seed))
    blown = {radiator["airway"] for radiator in tables.get("radiator", {}).values()}
    if any(
        sink["airway"] in blown and "size" not in tables["airway"][sink["airway"]]
        for sink in tables.get("sink", {}).values()
    ):
        raise Unfit  # such air has no way from end to end: the sink stands in what leaves the radiator
    forth = with_streams_reversed(with_streams_reversed(tables))  # only airways that draw from another differ from it
    here, there = built(forth), built(with_streams_reversed(forth))
    one, other = at_even(here), at_even(there)
    solids = [*sheets_of(here), *lumps_of(here)]
    rng, rows = np.random.default_rng(seed), 3
    for a, b in zip(rng.choice(solids, rows), rng.choice(solids, rows), strict=True):
        spots = int(rng.integers(10_000))
        hot, read = (model.numbers(a)[spots % model.numbers(a).size] for model in (here, there))
        answer, back = (model.numbers(b)[spots % model.numbers(b).size] for model in (here, there))
        to, fro = response(one, hot)[answer], response(other, back)[read]
        assert np.isclose(to, fro, rtol=1e-8, atol=1e-12), (a, b, to, fro)


def at_even(model: Model) -> tuple[object, int]:
    """A solver with K at one even temperature, and the number of nodes."""
    inputs = model.program.at(0.0, {})
    warm = np.full(model.node_count, model.case.spec.room.temperature + WARMER)
    matrix = model.square(model.matrix(model.strengths(model.conditions(warm, inputs))))
    return splu(matrix.tocsc()), model.node_count


def response(factored: tuple, hot: int) -> Floats:
    """Rises for a watt in a node."""
    solver, count = factored
    load = np.zeros(count)
    load[hot] = 1.0
    return solver.solve(load)


def heat_of_streams(seed: int) -> None:
    """Coolant and air warm by the heat they take up over their capacity flow, element by element."""
    model = built(without_courses(random_tables(seed)))
    if not model.case.spec.loop and not model.case.spec.airway:
        raise Unfit
    steady = steady_of(model)
    for nodes, inlet, rate in streams(model, steady):
        found = steady.temperature
        warmed = rate * (found[nodes[-1]] - np.r_[found, steady.inputs.places][inlet])
        taken = heat_into(model, steady, nodes)
        assert np.isclose(warmed, taken, rtol=1e-6, atol=1e-5 * max(1.0, rate)), (nodes, warmed, taken)


def streams(model: Model, steady: Steady):
    """Nodes in flow order, the node before them and the capacity flow (W/K), of each airway and element of a loop."""
    now = steady.conditions
    total = model.node_count + model.place_count
    for name, way in model.case.spec.airway.items():
        rate = now.air[name].capacity_rate
        if not way.returns and rate > 1e-3:
            chain = model.site.chains[name] % total
            yield chain[1:], chain[0], rate
    for name, loop in model.case.spec.loop.items():
        for group in model.groups:
            address = group.name.removesuffix(" feed")
            if group.kind != "coolant stream" or address == group.name or address not in now.loops[name].flows:
                continue
            if [other.name for other in model.groups].count(group.name) > 1:
                continue  # branches meet in it: it has no one inlet
            nodes = model.site.builder.names.get(f"{address} coolant", model.site.builder.names.get(address))
            rate = now.loops[name].capacity_rate(address)
            if rate > 1e-3:
                yield nodes, int(group.sender[0]), rate
        assert loop


def heat_into(model: Model, steady: Steady, nodes) -> float:
    """Heat that nodes take up from all but the stream through them, W."""
    full = steady.conditions.temperature
    own = np.zeros(full.size, dtype=bool)
    own[nodes] = True
    heat = float((model.program.heat @ steady.inputs.watts)[own[: model.node_count]].sum())
    for k, group in enumerate(model.groups):
        if group.kind not in ("stream", "coolant stream"):
            heat += float(model.taken(group, steady.strengths.get(k, 1.0), full)[own].sum())
    return heat


def order_of_tables(seed: int) -> None:
    """The order in which parts, films, joints and so on are written changes nothing."""
    tables = without_courses(random_tables(seed))
    here, there = built(tables), built(shuffled(tables, seed))
    one, other = steady_of(here).temperature, steady_of(there).temperature
    assert np.isclose(one.sum(), other.sum(), rtol=1e-8)
    for address in [*sheets_of(here), *lumps_of(here)]:
        assert np.allclose(other[there.numbers(address)], one[here.numbers(address)], atol=1e-5), address


def order_of_loads(seed: int, engine: Engine) -> None:
    """Whichever of two loads comes first, the box ends in the same state."""
    tables = of_fixed_laws(random_tables(seed))
    if len(tables["part"]) < 2 or "loop" in tables:
        raise Unfit
    ends = []
    early, late = ["0 s, 4 W"], ["0 s, 0 W", "200 s, 4 W"]
    for turns in ((early, late), (late, early)):
        duties = {
            f"d{number}": {"of": f"part.{name}.watts", "points": points, "shape": "step"}
            for number, (name, points) in enumerate(zip(list(tables["part"])[:2], turns, strict=True))
        }
        _, steps, fields = steps_of(tables | {"duty": duties}, 1e6, engine)
        ends.append(fields(steps[-1].last.x))
    assert np.abs(ends[0] - ends[1]).max() <= 2 * TOLERANCE


def refinement(seed: int) -> None:
    """On grids each half of the one before, what the parts read closes in; poor conductors want finer ones yet."""
    tables = of_metal(of_fixed_laws(random_tables(seed, 0.15)))
    parts = [f"part.{name}" for name in tables["part"]]
    read = []
    for halvings in range(3):
        model = built(finer(tables, halvings))
        steady = steady_of(model)
        read.append(np.array([steady.temperature[model.numbers(part)[0]] for part in parts]))
    first, second = np.abs(read[1] - read[0]).max(), np.abs(read[2] - read[1]).max()
    assert second <= 0.75 * first + 0.05, (first, second)


LAWS: dict[str, Callable[[int], None]] = {
    law.__name__: law for law in (
        steady_balance, mirror, linear_in_power, superposition, reciprocity, heat_of_streams, order_of_tables,
        refinement,
    )
}  # fmt: skip
LAWS_OF_ENGINES: dict[str, Callable[[int, Engine], None]] = {
    law.__name__: law for law in (first_law, first_law_with_all, maximum_principle, order_of_loads)
}
