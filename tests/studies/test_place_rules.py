"""May a plate lie there: never against a rule, checked here by other means than the search's own."""

import sys
from itertools import pairwise
from math import dist
from pathlib import Path

import numpy as np
import pytest

sys.path.append(str(Path(__file__).parent))
from plate_box import plate_box

from thermsim.case.placing import PlateHose
from thermsim.model.build import build
from thermsim.model.hydraulics import passage
from thermsim.solve.steady import solve_steady
from thermsim.studies.place.hoses import least_bend_radius
from thermsim.studies.place.laid import Laid
from thermsim.studies.place.layouts import LAYOUTS, NoRoom, layout
from thermsim.studies.place.setup import search_of
from thermsim.studies.place.spot import Spot
from thermsim.studies.place.tables import case_of, laid_out

RANDOM = np.random.default_rng(11)


def random_rules():
    """Tables of keep-outs and screws anywhere on the board, mm, as text and as numbers."""
    text, keeps, screws = "", [], []
    for n in range(RANDOM.integers(1, 4)):
        x, y, w, d = RANDOM.integers([0, 0, 5, 5], [100, 70, 25, 20])
        height = None if RANDOM.random() < 0.5 else float(RANDOM.integers(1, 9))
        text += f'[keep_out.k{n}]\ncorner = "{x}, {y} mm"\nsize = "{w} x {d} mm"\n'
        text += "" if height is None else f'height = "{height:g} mm"\n'
        keeps.append((x, y, w, d, height))
    for n in range(RANDOM.integers(0, 3)):
        x, y = RANDOM.integers([0, 0], [120, 90])
        text += f'[screw.s{n}]\nat = "{x}, {y} mm"\nhole = "3 mm"\nring = "7 mm"\n'
        screws.append((x, y))
    return text, keeps, screws


def points(x, y, w, d):
    """Points within a rectangle, its rim left out."""
    return [(x + w * a, y + d * b) for a in np.linspace(0.02, 0.98, 9) for b in np.linspace(0.02, 0.98, 9)]


def inside(point, corner, size):
    return all(low < at < low + side for at, low, side in zip(point, corner, size, strict=True))


@pytest.mark.parametrize("round_", range(6))
def test_no_allowed_position_breaks_a_rule(round_):
    text, keeps, screws = random_rules()
    exits = RANDOM.choice(["left", "right", "front", "back"], size=RANDOM.integers(1, 3), replace=False).tolist()
    search = search_of(plate_box({"place.hose.exits": exits, "place.clearance": "9.2 mm"}, text))
    verdicts = search.verdicts(search.first)
    allowed = [one for one in verdicts if one.allowed]
    heights = {name: 1e3 * part.height for name, part in search.spec.part.items()}
    for one in allowed:
        corner, size = np.array(one.spot.corner) * 1e3, np.array(one.spot.outline_size) * 1e3
        assert corner.min() > -1e-6  # on the board
        assert np.all(corner + size < np.array([120, 90]) + 1e-6)
        under = 1e3 * one.underside
        covered = {contact.part for contact in one.contacts}
        met = {
            name
            for name, part in search.spec.part.items()
            if any(
                inside(point, corner, size)
                for point in points(
                    *(1e3 * (part.centre[k] - part.size[k] / 2) for k in (0, 1)), *(1e3 * side for side in part.size)
                )
            )
        }
        assert covered <= met
        assert under == max(heights[name] for name in met)  # it rests on the tallest
        assert under + 6 <= 9.2  # the plate is 6 mm thick
        assert all(0.3 <= under - heights[name] <= 1.5 or under == heights[name] for name in covered)
        zones = [(zone[0] * 1e3, zone[1] * 1e3, zone[2] * 1e3, zone[3] * 1e3) for zone in (r.zone for r in one.hoses)]
        assert len(zones) == 2
        for x, y, w, d, height in keeps:
            if height is None or height > under:
                assert not any(inside(point, corner, size) for point in points(x, y, w, d))
            if height is None or height > under:  # the hose, 6 mm, at the plate's middle is as low as its underside
                for a, b, c, e in zones:
                    assert not any(inside(point, (x, y), (w, d)) for point in points(a, b, c - a, e - b))
        for a, b, c, e in zones:  # inside the box, and long enough to bend or straight to an exit's wall
            assert min(a, b) > -28 - 1e-6
            assert max(c - 148, e - 118) < 1e-6
            long = max(c - a, e - b)
            at_wall = {"left": a < -27.9, "right": c > 147.9, "front": b < -27.9, "back": e > 117.9}
            assert long > 8 + 20 - 1e-6 or (long > 8 - 1e-6 and any(at_wall[side] for side in exits))
        groove = [tuple(1e3 * value for value in one.spot.to_plan(p)) for p in search.first.layout.grooves[0]]
        walk = np.concatenate([np.linspace(p, q, 60) for p, q in pairwise(groove)])
        for at in screws:
            nearest = np.hypot(*(np.clip(at, corner, corner + size) - at))
            if nearest >= 3.5 - 1e-6:
                continue  # the whole ring is beside the plate
            assert min(*(at - corner), *(corner + size - at)) >= 3.5 - 1e-6
            # half a hole, 1.5 mm of wall and half a groove; the walk has points at most 0.8 mm apart
            assert np.hypot(*(walk - at).T).min() > 1.5 + 1.5 + 1.5 - 1e-6
    assert len(allowed) < len(verdicts)


def test_as_a_plate_is_turned_so_is_its_frame():
    for turn in (0, 90, 180, 270):
        spot = Spot((0.03, 0.01), turn, (0.05, 0.04))
        for own in ((0.0, 0.0), (0.05, 0.0), (0.02, 0.03)):
            assert spot.to_own(spot.to_plan(own)) == pytest.approx(own)
        assert spot.own_rectangle(spot.outline) == pytest.approx((0.0, 0.0, 0.05, 0.04))
        corners = {tuple(np.round(spot.to_plan(c), 9)) for c in ((0, 0), (0.05, 0), (0.05, 0.04), (0, 0.04))}
        low, high = spot.outline[:2], spot.outline[2:]
        assert corners == {(round(x, 9), round(y, 9)) for x in (low[0], high[0]) for y in (low[1], high[1])}
        step = np.subtract(spot.to_plan((0.03, 0.02)), spot.to_plan((0.02, 0.02)))
        assert spot.direction((1.0, 0.0)) == pytest.approx(tuple(step / 0.01))


def test_bend_radii():
    # common practice, no source: soft polyurethane 3.4 outer diameters; stiff: outer diameter squared over the wall,
    # so that 8 mm with 1 mm of wall may bend to 64 mm
    soft = PlateHose.model_validate({"outer": "6 mm", "barb_length": "10 mm"})
    stiff = PlateHose.model_validate({"outer": "8 mm", "barb_length": "10 mm", "stiff": True})
    stated = PlateHose.model_validate({"outer": "8 mm", "barb_length": "10 mm", "bend_radius": "30 mm"})
    assert least_bend_radius(soft, None) == pytest.approx(0.0204)
    assert least_bend_radius(stiff, 0.006) == pytest.approx(0.064)
    assert least_bend_radius(stated, None) == 0.03
    with pytest.raises(ValueError, match="needs a bore"):
        least_bend_radius(stiff, None)


def test_a_hose_that_cannot_bend_forbids_the_place():
    """Mouths at the plate's left; with the exit at the back, 8 + 20 + 3 mm must be free before the wall at −28 mm."""
    search = search_of(plate_box({"place.hose.exits": ["back"], "place.rotations": False}))
    rules = search.first.rules
    for x, fits in ((0, False), (2, False), (3, True), (10, True)):
        why = [one for one in rules.judge(Spot((x / 1e3, 0.03), 0, search.first.size)).why if "hose" in one]
        assert (not why) == fits
        assert fits or "no room for its bend before the wall" in why[0]
    # straight ahead through the wall it needs only its barb
    straight = search_of(plate_box({"place.hose.exits": ["left"], "place.rotations": False})).first.rules
    verdict = straight.judge(Spot((0.0, 0.03), 0, search.first.size))
    assert not [one for one in verdict.why if "hose" in one]
    assert [(route.length, route.bends) for route in verdict.hoses] == [(pytest.approx(0.028), 0)] * 2
    # a hole in the wall that is not ahead of either mouth
    hole = search_of(plate_box({"place.hose.exits": ["-28, 0 mm"], "place.rotations": False})).first.rules
    routes = hole.judge(Spot((0.03, 0.03), 0, search.first.size)).hoses
    # mouths 30 + 5 and 30 + 35 mm up; from the end of the bend 30 mm on to the wall and 35, 65 mm down to the hole
    assert [route.length for route in routes] == pytest.approx([0.028 + 0.030 + 0.035, 0.028 + 0.030 + 0.065])
    assert [route.bends for route in routes] == [2, 2]


def test_the_loss_of_a_bend():
    # Darby, Chemical Engineering Fluid Mechanics (2001), table 7-3, radius 4 and 6 bores: K = K1/Re + Ki (1 + Kd/D^0.3)
    search = search_of(plate_box())
    point = search.now.steady.conditions.loops["main"]
    velocity = point.flows["pump"] / (np.pi / 4 * 0.004**2)
    re = velocity * 0.004 * point.liquid.density / point.liquid.viscosity
    wanted = {800 / re + ki * (1 + kd / (4 / 25.4) ** 0.3) for ki, kd in ((0.066, 3.9), (0.075, 4.2))}
    assert any(search.plumbing.bend_k == pytest.approx(k, rel=1e-6) for k in wanted)


@pytest.mark.parametrize("name", LAYOUTS)
@pytest.mark.parametrize("size", [(0.1, 0.06), (0.06, 0.1), (0.12, 0.05)])
@pytest.mark.parametrize("passes", [4, 5, 6, 8])
def test_layouts_leave_their_walls(name, size, passes):
    width, wall = 0.003, 0.0015
    try:
        one = layout(name, size, passes, width, wall)
    except NoRoom:
        assert size[1] / passes < width + wall or name == "spiral"
        return
    for mouth in (one.inlet, one.outlet):
        assert any(abs(mouth.at[k] - edge) < 1e-12 for k in (0, 1) for edge in (0.0, size[k]))
    walks = [np.concatenate([np.linspace(p, q, 200) for p, q in pairwise(groove)]) for groove in one.grooves]
    for walk in walks:
        off_rim = np.minimum(walk, np.array(size) - walk).min(axis=1)
        ends = (np.linalg.norm(walk - walk[0], axis=1) < width + wall) | (
            np.linalg.norm(walk - walk[-1], axis=1) < width + wall
        )
        if name == "parallel":
            off_rim = np.minimum(walk[:, 1], size[1] - walk[:, 1])
            ends = np.zeros(len(walk), dtype=bool)
        assert off_rim[~ends].min() > width / 2 + wall - 1e-9
    # legs that run beside each other keep a groove and a wall apart
    legs = [leg for groove in one.grooves for leg in pairwise(groove)]
    for k, (a, b) in enumerate(legs):
        for c, d in legs[k + 2 :]:
            if (a[0] == b[0]) == (c[0] == d[0]):
                axis = 0 if a[0] == b[0] else 1
                shared = min(max(a[1 - axis], b[1 - axis]), max(c[1 - axis], d[1 - axis])) - max(
                    min(a[1 - axis], b[1 - axis]), min(c[1 - axis], d[1 - axis])
                )
                assert shared <= 1e-9 or abs(a[axis] - c[axis]) > width + wall - 1e-9
    assert all(dist(p, q) > 1e-6 for p, q in legs)


def laid(layout_name):
    """The box with its plate laid out so, flow pinned, no other way for the heat than into the coolant."""
    search = search_of(plate_box({"loop.main.flow": "0.5 L/min", "film.plate": None}))
    one = layout(layout_name, search.first.size, 4, 0.003, 0.0015)
    spot = Spot((0.02, 0.03), 0, search.first.size)
    verdict = search.first.rules.judge(spot)
    return case_of(laid_out(search.tables(), [Laid("cold", spot, one, verdict.contacts)], "series", None))


def test_grooves_side_by_side_share_flow_and_heat():
    case = laid("parallel")
    model = build(case)
    steady = solve_steady(model, 300.0)
    point = steady.conditions.loops["main"]
    rate = point.capacity_rate("plate.cold")
    # first law: all that the parts give the plate leaves with the coolant
    coolant = model.numbers("plate.cold coolant")
    joints = [group for group in model.groups if group.name == "joint.hot to cold"]
    full = steady.conditions.temperature
    given = -sum(model.flow(group, 1.0, full).sum() for group in joints)
    inlet = full[model.numbers("hose.out")[-1]]
    outlet = full[model.numbers("plate.cold outlet")[0]]
    assert coolant.size == 4 * 48
    assert abs(given) == pytest.approx(rate * (outlet - inlet), rel=1e-6)
    # laminar drop of a duct goes with its flow (Hagen-Poiseuille): a quarter in each of four, each an eighth as long
    four, one = passage(case.spec, "plate.cold"), passage(laid("serpentine").spec, "plate.cold")
    liquid, flow = point.liquid, 0.5 / 6e4
    friction = [p.drop(flow, liquid) - p.loss_coefficient * 0.5 * liquid.density * (flow / p.count / 9e-6) ** 2
                for p in (four, one)]  # fmt: skip
    assert friction[0] / friction[1] == pytest.approx(four.length / one.length / 4, rel=1e-6)
    assert four.reynolds(flow, liquid) == pytest.approx(one.reynolds(flow, liquid) / 4)
    assert four.length == pytest.approx(0.05)
