"""All checks between tables of a case that the schema has passed."""

import re
from collections.abc import Iterator, Sequence

from thermsim.case.address import NAMED_KINDS
from thermsim.case.benching_checks import check_benching
from thermsim.case.chilling_checks import check_chilling
from thermsim.case.deciding_checks import check_deciding
from thermsim.case.duties import check_duties, check_must_haves
from thermsim.case.errors import Finding, KeyPath, nearest
from thermsim.case.fitting_checks import check_fitting
from thermsim.case.geometry import check_geometry
from thermsim.case.governors import check_governors
from thermsim.case.leaking_checks import check_leaking
from thermsim.case.loop_checks import check_loops_and_pipes
from thermsim.case.names import slug
from thermsim.case.physics_checks import check_physics, warn_physics
from thermsim.case.placing_checks import check_placing
from thermsim.case.references import check_references, tables
from thermsim.case.schema import Spec
from thermsim.case.sounding import check_noise, warn_noise
from thermsim.case.stating import check_statements
from thermsim.case.targets import check_uncertain

NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9 _.,%°+-]{0,60}")  # names end up in file names
RECORDED, TIME_AXIS = ("part", "probe", "governor"), "time"  # their curves are stored by name, beside the time
NAME_RULE = "up to 61 letters a to z, digits, spaces and _ . , % ° + -, a letter or digit first"


def check(spec: Spec, happening: Sequence[str]) -> list[Finding]:
    """Everything wrong with a case, with `happening` the names of the mishaps that happen."""
    found = [*_names(spec), *_folders(spec)]
    for name in happening:
        if name not in spec.mishap:
            found.append((("mishap",), f'there is no mishap "{name}"{nearest(name, spec.mishap)}'))
    found += check_references(spec, happening)
    found += check_statements(spec)
    found += check_geometry(spec)
    found += check_governors(spec)
    found += check_noise(spec)
    found += check_duties(spec)
    found += check_must_haves(spec)
    found += check_deciding(spec)
    found += check_chilling(spec)
    found += check_benching(spec)
    found += check_leaking(spec)
    found += check_uncertain(spec)
    found += check_fitting(spec)
    found += check_placing(spec)
    found += check_loops_and_pipes(spec)
    if not any(path[0] == "duty" for path, _ in found):  # else the duties' temperatures cannot be read
        found += check_physics(spec)
    return found


def warn(spec: Spec) -> list[Finding]:
    """What is odd about a sound case."""
    return [*warn_physics(spec), *warn_noise(spec)]


def _names(spec: Spec) -> Iterator[Finding]:
    for path in _named_paths(spec):
        if not NAME.fullmatch(str(path[-1])):
            yield path, f"is no usable name: {NAME_RULE}"
        if path[0] in RECORDED and path[-1] == TIME_AXIS:
            yield path, "is no usable name: the stored curves' own axis is called so"


def _folders(spec: Spec) -> Iterator[Finding]:
    """Results of options go to folders by their names, and the base case's to `base`."""
    taken = {"base": "the base case"}
    for name in spec.option:
        folder = slug(name)
        if folder in taken:
            yield ("option", name), f'its results and those of {taken[folder]} would both go to "{folder}"; rename it'
        taken.setdefault(folder, f'option "{name}"')


def _named_paths(spec: Spec) -> Iterator[KeyPath]:
    for kind in NAMED_KINDS:
        for name, table in tables(spec, kind).items():
            yield kind, name
            for inner in ("patch", "cutout", "opening"):
                yield from ((kind, name, inner, key) for key in getattr(table, inner, {}))
    yield from (("bench", "run", name) for name in spec.bench.run)
