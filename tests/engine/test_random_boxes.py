"""Random boxes are sound cases, the same for the same seed, and among them nothing that engines must bear is rare."""

import os
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest
from random_boxes import UNKNOWNS, features_of, random_case

from thermsim.model.build import build
from thermsim.solve.factor import NoPath
from thermsim.solve.steady import solve_steady

SEEDS = 200
RARE = 8  # boxes at least with any one feature, of all seeds
HAS_ALL = {
    "1 sheets", "2 sheets", "3 sheets", "patch", "cutout", "contrast", "box", "wall without a box", "one part",
    "six parts or more", "part next to massless", "massless top", "massless sink", "part on no sheet",
    "part on a plate", "joint by resistance", "joint by resistivity", "joint by conductance", "joint by bond_line",
    "screws", "fixed film", "scaled film", "natural film", "duct film", "plate film", "film to stated air",
    "radiation to the room", "facing radiation", "held edge", "cooled edge", "heated edge", "heat pipe", "source",
    "airway on its fan's curve", "pinned airway", "airway that stirs", "airway behind another", "no airway",
    "measured sink", "finned sink", "air only", "loop", "pinned loop", "branches", "block", "reservoir",
    "no governor", "two governors", "governor: hold", "governor: curve", "governor: switch", "governed fan",
    "governed pump", "no duty", "states", "room swing", "sine", "steps of watts", "ramp of watts", "repeating",
    "no mishap", "pump stop", "fan stop", "filter blocked", "airlock", "hot room", "mishap that ends",
}  # fmt: skip


@pytest.fixture(scope="module")
def cases():
    return [random_case(seed) for seed in range(SEEDS)]


def test_every_feature_is_common_enough(cases):
    found = Counter(feature for case in cases for feature in features_of(case))
    assert set(found) >= HAS_ALL
    assert {feature: count for feature, count in found.items() if count < RARE} == {}


def test_boxes_run_five_minutes_to_an_hour(cases):
    durations = [case.spec.run.duration for case in cases]
    assert min(durations) >= 299
    assert max(durations) <= 3601


def test_boxes_build_at_a_size_to_run_whole_and_rest_somewhere(cases):
    rises = []
    for case in cases[:40]:
        model = build(case)
        assert UNKNOWNS[0] <= model.node_count <= UNKNOWNS[1], case.title
        try:
            steady = solve_steady(model)
        except NoPath:
            continue
        rises.append(steady.temperature.max() - case.spec.room.temperature)
    assert sum(10 <= rise <= 120 for rise in rises) >= 34


def test_a_seed_gives_the_same_box_in_any_process(cases):
    # sets and their order differ from process to process
    ask = "from random_boxes import random_case; print(*[random_case(seed).fingerprint() for seed in range(40)])"
    here = str(Path(__file__).parent)
    # the folder is added at the end: what pytest itself imports by these names must come first
    path = os.pathsep.join([*filter(None, sys.path), here])
    environment = os.environ | {"PYTHONPATH": path, "PYTHONHASHSEED": "1"}
    told = subprocess.run(
        [sys.executable, "-c", ask], env=environment, capture_output=True, text=True, check=True
    ).stdout.split()
    assert told == [case.fingerprint() for case in cases[:40]]
