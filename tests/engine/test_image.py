"""The image in a basis has the same heat balance as the model, and the projector what moves and nothing else."""

from types import SimpleNamespace

import numpy as np
import pytest
from courses import Begun, begun
from random_boxes import random_case
from small_box import small_box

from thermsim.physics.ranges import collect_ranges
from thermsim.solve.dynamics import FullDynamics, Watch
from thermsim.solve.reduced.grow import Growth
from thermsim.solve.reduced.image import Image
from thermsim.solve.reduced.readings import FEW, RowReadings

# governed fans and loops; with no patches, or none of more than a link
EXACT = (3, 20, 29, 33, 42, 55)
PATCHED = 36
UNEVEN = {"run.cell": "6 mm"}  # no divisor of its lengths, so that cells differ in size


def coordinates(growth: Growth, temperature):
    """Of a field that the basis spans."""
    basis = growth.basis
    x = basis.vectors @ (basis.capacity * (temperature - growth.start))
    assert growth.start + x @ basis.vectors == pytest.approx(temperature, abs=1e-7)
    return x


def between(box: Begun, share: float):
    """Coordinates of a field so far on the way to the steady state, and some kelvins off it."""
    growth = box.growth
    x = share * coordinates(growth, box.steady.temperature)
    rough = np.random.default_rng(5).normal(size=x.size)
    return x + rough * 3 / np.abs(rough @ growth.basis.vectors).max()


@pytest.mark.parametrize("seed", EXACT)
def test_balance_is_that_of_the_model(seed):
    box = begun(random_case(seed))
    growth = box.growth
    model, vectors = growth.model, growth.basis.vectors
    image, full = Image(growth.projector, growth.basis), FullDynamics(model)
    assert all(patches.weight.size == patches.group.receiver.size for patches, _ in growth.projector.patched)
    assert growth.projector.whole
    calm = box.steady.speeds
    with collect_ranges():
        for share, time, faster in ((0.0, 0.0, 1.0), (0.4, 0.3, 0.8), (0.9, 0.6, 1.1), (1.0, 0.95, 1.0)):
            inputs = model.program.at(time * growth.end, {name: faster * speed for name, speed in calm.items()})
            x = between(box, share)
            _, expected = full.balance(image.field(x), inputs)
            change, found = image.balance(x, inputs)
            # heat comes and goes in large amounts: the difference is compared with what passes
            size = np.abs(vectors) @ (np.abs(full.balance(image.field(x), inputs)[0]) @ np.abs(
                np.r_[image.field(x), inputs.places]))  # fmt: skip
            assert (
                np.abs(found - vectors @ expected).max() <= 1e-9 * np.abs(vectors @ expected).max() + 1e-13 * size.max()
            )
            assert image.left(change, x, inputs) == pytest.approx(found, abs=1e-12 * size.max())
            assert image.watts(found) == pytest.approx(expected.sum(), abs=1e-9 * np.abs(expected).sum())


def test_nothing_has_changed_at_the_reference():
    box = begun(random_case(PATCHED))
    growth = box.growth
    model, steady = growth.model, box.steady
    assert any(patches.weight.size < patches.group.receiver.size for patches, _ in growth.projector.patched)
    image = Image(growth.projector, growth.basis)
    x = coordinates(growth, steady.temperature)
    change, found = image.balance(x, steady.inputs)
    weights = np.concatenate([patches.weight for patches, _ in growth.projector.patched])
    assert np.abs(change.groups).max(initial=0.0) <= 1e-8
    assert np.abs(change.patches / weights).max() <= 1e-8
    # so that, patches or not, the balance is that of the model
    expected = growth.basis.vectors @ FullDynamics(model).balance(steady.temperature, steady.inputs)[1]
    assert np.abs(found - expected).max() <= 1e-8 * np.abs(growth.basis.vectors @ model.program.heat).max()
    # and elsewhere something has
    assert np.abs(image.balance(0.5 * x, steady.inputs)[0].patches / weights).max() > 0.1


@pytest.mark.parametrize("seed", [20, PATCHED])
def test_an_image_grown_is_the_image_made_anew(seed):
    box = begun(random_case(seed))
    growth = box.growth
    basis, program = growth.basis, growth.model.program
    before = Image(growth.projector, basis)
    draw = np.random.default_rng(3)
    for _ in range(7):
        assert basis.add(draw.normal(size=basis.nodes))
    grown, anew = Image(growth.projector, basis, before), Image(growth.projector, basis)
    x = np.r_[between(box, 0.5)[: before.size], draw.normal(size=7) / np.sqrt(basis.capacity.max())]
    with collect_ranges():
        inputs = program.at(1.0, box.steady.speeds)
        one, other = grown.balance(x, inputs)[1], anew.balance(x, inputs)[1]
    assert one == pytest.approx(other, rel=1e-9, abs=1e-9 * np.abs(other).max())


def test_a_factor_is_that_of_the_balance():
    box = begun(random_case(PATCHED))
    growth = box.growth
    image, inputs = Image(growth.projector, growth.basis), box.steady.inputs
    x = between(box, 0.5)
    change = image.balance(x, inputs)[0]
    step, span = between(box, 0.3) - x, 7.0
    right = step / span - (image.left(change, x + step, inputs) - image.left(change, x, inputs))
    assert image.factor(change, span).solve(right) == pytest.approx(step, abs=1e-7 * np.abs(step).max())


def test_stored_heat_and_size_of_a_change_are_those_of_the_field():
    box = begun(random_case(PATCHED))
    growth = box.growth
    image = Image(growth.projector, growth.basis)
    x = between(box, 0.7)
    change = x @ growth.basis.vectors
    assert image.joules(x) == pytest.approx(growth.capacity @ change, rel=1e-9)
    # some cells stand for all: whatever the field, not much of its largest change is overlooked
    for state in (x, *np.eye(image.size)):
        largest = np.abs(state @ growth.basis.vectors).max()
        assert 0.5 * largest <= image.kelvin(state) <= largest * (1 + 1e-12)


def test_sensors_of_governors_read_the_field():
    box = begun(random_case(20))
    growth = box.growth
    image = Image(growth.projector, growth.basis)
    x = between(box, 0.7)
    assert len(image.laws) == len(growth.full.laws) == 2
    for law, same in zip(image.laws, growth.full.laws, strict=True):
        assert law.read(x) == pytest.approx(same.read(image.field(x)), abs=1e-9)


def test_a_film_with_two_half_thicknesses_moves_as_two_groups():
    box = begun(small_box())
    model, projector = box.growth.model, box.growth.projector
    (film,) = (k for k, group in enumerate(model.groups) if group.name == "film.top")
    pieces = [moving for moving in projector.whole if moving.group.name == "film.top"]
    assert len(pieces) == 2
    assert sorted(piece.group.receiver.size for piece in pieces) == [6, 54]
    assert projector.patched == []
    where = np.concatenate([piece.group.receiver for piece in pieces])
    assert sorted(where) == sorted(model.groups[film].receiver)
    for speed in (0.2, 0.5, 1.0):
        now = model.conditions(box.steady.temperature, model.program.at(0.0, {"fan.f": speed}))
        by_link = dict(zip(model.groups[film].receiver, model.groups[film].law(now), strict=True))
        strengths = [piece.law(now) for piece in pieces]
        assert strengths[0] != pytest.approx(strengths[1], rel=1e-3)
        for piece, strength in zip(pieces, strengths, strict=True):
            expected = [by_link[node] for node in piece.group.receiver]
            assert np.full(len(expected), strength) == pytest.approx(expected, rel=1e-12)


def test_what_stands_still_is_not_among_what_moves():
    projector = begun(small_box({"law": "fixed", "h": "40 W/m2K"})).growth.projector
    # the governed fan moves the air, but nothing else
    assert {moving.group.kind for moving in projector.whole} <= {"stream"}


def test_readings_are_those_of_the_field():
    box = begun(random_case(PATCHED).with_changes(UNEVEN))
    growth = box.growth
    basis, model = growth.basis, growth.model
    many, few = model.site.ends("sheet.board"), model.site.ends("sheet.second").node[:FEW]
    assert many.node.size > FEW
    assert np.ptp(many.share) > 0.5 * many.share.mean()
    watches = [
        Watch(model.numbers(f"part.{next(iter(model.case.spec.part))}")), Watch(many.node, many.share),
        Watch(many.node), Watch(few),
    ]  # fmt: skip
    states = [between(box, share) for share in (0.1, 0.5, 0.9)]
    states = [state + 5 * np.roll(state, k) for k, state in enumerate(states)]
    basis.samples = np.array([state[:-2] for state in states])  # as they were in fewer vectors
    for state in states:
        state[-2:] = 0
    readings = RowReadings(basis, watches)
    step = SimpleNamespace(at=lambda time: states[int(time)])
    for found, state in zip(readings.of(step, np.arange(3.0)), states, strict=True):
        field = growth.start + state @ basis.vectors
        part, mean, hottest, few_hottest = found
        assert part == pytest.approx(field[watches[0].nodes[0]], abs=1e-9)
        assert mean == pytest.approx(field[many.node] @ many.share, abs=1e-9)
        assert hottest == pytest.approx(field[many.node].max(), abs=1e-9)
        assert few_hottest == pytest.approx(field[few].max(), abs=1e-9)
