"""Families kept on disk, by the content of the cases they were grown from.

A file appears whole or not at all, so that two writers do not disturb each other; one that was tampered with, cut
short or made by another version is not believed, and grown anew.
"""

from __future__ import annotations

import hashlib
import os
import zipfile
from collections.abc import Sequence
from importlib.metadata import version
from pathlib import Path
from tempfile import NamedTemporaryFile

import numpy as np

from thermsim.case.case import Case
from thermsim.model.arrays import Floats
from thermsim.model.build import build
from thermsim.solve.reduced.basis import Basis
from thermsim.solve.reduced.family import Family
from thermsim.solve.reduced.projector import Projector

Arrays = dict[str, Floats]


def family_of(cases: Sequence[Case], folder: Path, tolerance: float | None = None) -> Family:
    """The family of some cases, from the shelf if it is there, else grown and put there."""
    within = tolerance or cases[0].spec.run.tolerance
    path = folder / f"family-{key_of(cases, within)}.npz"
    arrays = _read(path)
    if arrays is None:
        family = Family.grow(cases, within)
        _write(path, _packed(family))
        return family
    return _unpacked(cases[0], arrays, within)


def key_of(cases: Sequence[Case], tolerance: float) -> str:
    """What a family is kept under: a digest of the cases, their order, the tolerance and the version."""
    content = "\n".join([version("thermsim"), repr(tolerance), *(case.fingerprint() for case in cases)])
    return hashlib.sha256(content.encode()).hexdigest()[:32]


def _packed(family: Family) -> Arrays:
    basis, projector = family.basis, family.projector
    return {
        "start": basis.fields[0, : basis.nodes],
        "vectors": basis.vectors,
        "capacity": basis.capacity,
        "states": family.states,
        "reference": projector.now.temperature,
        "speeds": np.array([projector.now.speeds[address] for address in family.model.program.devices]),
        "numbers": np.array(projector.numbers, dtype=float),
        "finer": np.array([float(projector.finer)]),
        "samples": basis.samples,
    }


def _unpacked(case: Case, arrays: Arrays, tolerance: float) -> Family:
    model = build(case)
    basis = Basis.of(model, arrays["start"], arrays["capacity"], arrays["vectors"])
    basis.samples = arrays["samples"]
    speeds = dict(zip(model.program.devices, arrays["speeds"].tolist(), strict=True))
    inputs = model.program.at(0.0, speeds)
    now = model.operating.conditions(arrays["reference"], inputs.controls)
    projector = Projector(model, now, arrays["numbers"].astype(int).tolist(), int(arrays["finer"][0]))
    return Family(model, projector, basis, arrays["states"], tolerance)


def _digest(arrays: Arrays) -> str:
    found = hashlib.sha256()
    for name in sorted(arrays):
        found.update(f"{name} {arrays[name].shape}".encode())
        found.update(np.ascontiguousarray(arrays[name], dtype=float).tobytes())
    return found.hexdigest()


def _write(path: Path, arrays: Arrays) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    with NamedTemporaryFile(dir=path.parent, prefix=path.stem, suffix=".part", delete=False) as file:
        try:
            np.savez(file, digest=np.array(_digest(arrays)), **arrays)  # type: ignore[arg-type]
        except BaseException:
            os.unlink(file.name)
            raise
    os.replace(file.name, path)


def _read(path: Path) -> Arrays | None:
    try:
        with open(path, "rb") as handle, np.load(handle, allow_pickle=False) as file:
            arrays = {name: file[name] for name in file.files if name != "digest"}
            told = str(file["digest"])
    except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile):
        return None
    return arrays if told == _digest(arrays) else None
