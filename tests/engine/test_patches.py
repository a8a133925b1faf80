"""Patches of links: what is averaged over one comes out as link by link where it should."""

import numpy as np
import pytest
from courses import begun
from random_boxes import random_case

from thermsim.solve.reduced.patches import ACROSS, FEW, SPREAD

RADIATING = 36  # a box with four radiating groups of more than 256 links
UNEVEN = {"run.cell": "6 mm"}  # no divisor of its lengths, so that cells differ in size


FEW_LINKS = 20  # and one with three radiating groups, none of more


@pytest.fixture(scope="module")
def box():
    found = begun(random_case(RADIATING).with_changes(UNEVEN))
    return found.growth.model, found.growth.projector, found.steady.conditions


@pytest.fixture(scope="module")
def gathered(box):
    """Groups whose links read their own ends, many to a patch."""
    found = [patches for patches, _ in box[1].patched]
    assert len(found) >= 3
    for patches in found:
        assert patches.group.receiver.size > FEW
        assert np.ptp(patches.group.weight) > 0.5 * patches.group.weight.mean()
        assert patches.weight.size < 0.6 * patches.group.receiver.size
    return found


def linear_field(model):
    """A field that rises along x and y and from sheet to sheet, over nodes and places."""
    field = np.full(model.node_count + model.place_count, 20.0)
    for k, sheet in enumerate(model.site.sheets.values()):
        x, y = sheet.centres
        active = sheet.node >= 0
        field[sheet.node[active]] = (5 * k + 300 * y[:, None] - 200 * x[None, :])[active]
    return field


def test_no_weight_is_lost(gathered):
    for patches in gathered:
        assert patches.weight.sum() == pytest.approx(patches.group.weight.sum(), rel=1e-12)
        assert patches.mean.sum(axis=0) == pytest.approx(np.ones(patches.weight.size), rel=1e-12)
        assert ((patches.mean > 0).sum(axis=1) == 1).all()  # every link is in one patch


def test_heat_through_a_patch_is_that_of_its_links(box, gathered):
    field = linear_field(box[0])
    for patches in gathered:
        group = patches.group
        links = group.weight * (field[group.receiver] - field[group.sender])
        owner = patches.mean.tocsr().indices
        expected = np.bincount(owner, weights=links)
        assert patches.weight * patches.difference(field[None])[0] == pytest.approx(expected, rel=1e-10)


def test_a_linear_field_is_read_at_the_middle_of_a_patch(box, gathered):
    model = box[0]
    field = linear_field(model)[None]
    sheet = model.site.sheets["sheet.board"]
    places = np.full((2, model.node_count), np.nan)
    for row, centres in zip(places, np.meshgrid(*sheet.centres), strict=True):
        row[sheet.node[sheet.node >= 0]] = centres[sheet.node >= 0]
    tried = 0
    for patches in gathered:
        nodes = patches.group.receiver
        if not np.isin(nodes, sheet.node).all():
            continue
        tried += 1
        x, y = places[:, nodes] @ patches.mean
        found = patches.ends(field)[[(nodes == end).all() for end in patches.law.ends].index(True)][0]
        offset = field[0, nodes[0]] - (300 * places[1, nodes[0]] - 200 * places[0, nodes[0]])
        assert found == pytest.approx(300 * y - 200 * x + offset, abs=1e-9)
    assert tried >= 2


def test_links_of_a_patch_are_alike(box, gathered):
    model, _, now = box
    grid, temperature = model.site.grid, now.temperature
    side = max(np.ptp(grid.x), np.ptp(grid.y)) / ACROSS
    sheets = list(model.site.sheets.values())
    for patches in gathered:
        owner = patches.mean.tocsr().indices
        for k in range(patches.weight.size):
            nodes = patches.group.receiver[owner == k]
            (sheet,) = (s for s in sheets if nodes[0] in s.node)
            row, column = np.nonzero(np.isin(sheet.node, nodes))
            assert row.size == nodes.size  # all in one sheet
            assert np.ptp(sheet.centres[0][column]) <= side
            assert np.ptp(sheet.centres[1][row]) <= side
            for ends in patches.law.ends:
                assert np.ptp(temperature[ends[owner == k]]) <= SPREAD


def test_finer_patches_come_nearer_to_their_links(box, gathered):
    _, projector, now = box

    def missed(patches) -> float:
        return np.abs(patches.strength(now)[patches.mean.tocsr().indices] - patches.law(now)).max()

    for patches, (finer, _) in zip(gathered, projector.refined().patched, strict=True):
        assert finer.group.name == patches.group.name
        assert missed(finer) < missed(patches)


def test_few_links_are_their_own_patches():
    few = begun(random_case(FEW_LINKS))
    now = few.steady.conditions
    found = [patches for patches, _ in few.growth.projector.patched]
    assert len(found) == 3
    for patches in found:
        assert (patches.weight == patches.group.weight).all()
        assert patches.strength(now) == pytest.approx(patches.law(now), rel=1e-12)
