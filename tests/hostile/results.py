"""Hostile result files: a sound one with bits flipped, cut, pieces of other types and shapes, links to elsewhere."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from random import Random
from typing import Any

import h5py
import numpy as np

from tests.hostile import words

CANARY = 31337.25  # in a file that no result may lead to


def sound_result(folder: Path) -> Path:
    """A small whole result; made once."""
    from tests.hostile.small_case import SMALL
    from thermsim.case import Case
    from thermsim.studies.run import run

    return run(Case.from_text(SMALL), folder).path


def canary(path: Path) -> Path:
    """An HDF5 file that holds what a link may point to."""
    with h5py.File(path, "w") as file:
        file["time"] = np.linspace(0, 600, 3)
        file["temperature"] = np.full((3, 9, 12), CANARY)
        file["fpga"] = np.full(3, CANARY)
        file["fpga"].attrs.update({"units": "degC", "long_name": "stolen"})
    return path


def hostile_result(random: Random, sound: Path, path: Path, secret: Path) -> None:
    """Write a hostile result to `path`."""
    shutil.copy(sound, path)
    if random.random() < 0.4:
        path.write_bytes(_bits(random, path.read_bytes()))
        return
    with h5py.File(path, "r+") as file:
        for _ in range(random.choice((1, 1, 1, 2, 3))):
            try:
                random.choice(WAYS)(random, file, secret)
            except (LookupError, ValueError, OSError, TypeError, AttributeError, RuntimeError):
                continue  # an earlier change has taken away what this one is about


def _bits(random: Random, data: bytes) -> bytes:
    way = random.randrange(4)
    if way == 0:
        return data[: words.below(random, len(data))]
    if way == 1:
        return words.noise(random, data)
    changed = bytearray(data)
    for _ in range(random.choice((1, 1, 3, 10, 100))):
        # heads of groups and attributes stand at the front
        at = words.below(random, len(data) if random.random() < 0.4 else min(len(data), 12_000))
        changed[at] ^= 1 << random.randrange(8)
    return bytes(changed)


def _things(file: Any) -> list[Any]:
    found = [file]
    file.visititems(lambda name, item: found.append(item))
    return found


def _attribute(random: Random, file: Any, secret: Path) -> None:
    thing = random.choice([one for one in _things(file) if len(one.attrs)])
    key = random.choice(list(thing.attrs))
    if random.random() < 0.3:
        del thing.attrs[key]
        return
    odd = (0, -1, 10**18, 1.5, float("nan"), "", "{", "[]", "null", "1", "\x1b[31m", "é" * 999, b"\xff\xfe",
        np.zeros(0), np.zeros((3, 3)),
           np.array(["a", "b"], dtype=h5py.string_dtype()), h5py.Empty("f"), np.arange(5000.0), True)  # fmt: skip
    thing.attrs[key] = random.choice(odd)


def _facts(random: Random, file: Any, secret: Path) -> None:
    """The summary or the case, as JSON, with something changed within."""
    key = random.choice(("summary", "summary", "case"))
    facts = json.loads(file.attrs[key])
    owner: Any = facts
    while True:
        step = random.choice(list(owner) if isinstance(owner, dict) else list(range(len(owner))))
        if isinstance(owner[step], dict | list) and owner[step] and random.random() < 0.75:
            owner = owner[step]
            continue
        break
    way = random.randrange(4)
    if way == 0:
        del owner[step]
    elif way == 1 and isinstance(owner, dict):
        owner[random.choice(words.TEXTS[:60])] = words.value(random)
    elif way == 2:
        owner[step] = None
    else:
        owner[step] = words.value(random)
    text = json.dumps(facts)
    if random.random() < 0.1:
        text = random.choice((text[:-20], "[" * 100_000, '"text"', "NaN", text.replace("0", "9" * 50)))
    file.attrs[key] = text


def _data(random: Random, file: Any, secret: Path) -> None:
    sets = [one for one in _things(file) if isinstance(one, h5py.Dataset)]
    data = random.choice(sets)
    name, shape, attributes = data.name, data.shape, dict(data.attrs)
    group = data.parent
    key = name.rsplit("/", 1)[-1]
    del group[key]
    odd: tuple[Callable[[], Any], ...] = (
        lambda: np.full(shape, np.nan), lambda: np.full(shape, 1e308), lambda: np.zeros(0), lambda: np.float64(3.0),
        lambda: np.zeros((*shape, 2)), lambda: np.zeros(max(shape[0] - 1, 0)),
        lambda: np.array([b"text"] * max(shape[0], 1)),
        lambda: np.zeros(shape, dtype="i8"), lambda: np.zeros(shape, dtype=[("a", "f4"), ("b", "S3")]),
        lambda: np.full(shape, 1 + 2j), lambda: h5py.Empty("f8"), lambda: np.full(shape, -1e30),
        lambda: np.zeros((1, 1, 1)), lambda: np.arange(10.0)[::-1],
    )  # fmt: skip
    if random.random() < 0.25:
        return
    group[key] = random.choice(odd)()
    if random.random() < 0.7:
        for one, value in attributes.items():
            if one not in ("DIMENSION_LIST", "CLASS", "NAME", "REFERENCE_LIST"):
                group[key].attrs[one] = value


def _huge(random: Random, file: Any, secret: Path) -> None:
    """A data set that says it is huge and holds nothing."""
    sheet = file["sheets/board"] if random.random() < 0.6 else file["parts"]
    key = random.choice(list(sheet))
    del sheet[key]
    shape = (10**9,) if key != "temperature" else random.choice(((10**6, 1000, 1000), (3, 10**5, 10**5)))
    chunks = tuple(min(one, 64) for one in shape)
    sheet.create_dataset(key, shape=shape, chunks=chunks, dtype="f8", compression=random.choice((None, "gzip")))
    sheet[key].attrs.update({"units": "degC", "long_name": "huge"})


def _link(random: Random, file: Any, secret: Path) -> None:
    """A link to another file, to itself or to nowhere; data kept in another file."""
    group, key = random.choice((("sheets/board", "temperature"), ("parts", "fpga"), ("", "parts"), ("sheets", "board")))
    owner = file[group] if group else file
    del owner[key]
    way = random.randrange(5)
    if way == 0:
        owner[key] = h5py.ExternalLink(str(secret), random.choice((f"/{key}", "/", "/nothing")))
    elif way == 1:
        owner[key] = h5py.SoftLink(random.choice(("/", "/nothing", f"/{group}/{key}", "/sheets", "/parts/time")))
    elif way == 2:
        shape = (3, 9, 12) if key == "temperature" else (3,)
        owner.create_dataset(key, shape=shape, dtype="u1", external=[("/etc/passwd", 0, h5py.h5f.UNLIMITED)])
        owner[key].attrs.update({"units": "degC", "long_name": "raw"})
    elif way == 3:
        shape = (3, 9, 12) if key == "temperature" else (3,)
        layout = h5py.VirtualLayout(shape=shape, dtype="f8")
        layout[:] = h5py.VirtualSource(str(secret), "temperature" if len(shape) == 3 else "fpga", shape=shape)
        owner.create_virtual_dataset(key, layout)
        owner[key].attrs.update({"units": "degC", "long_name": "virtual"})
    else:
        owner[key] = file["/"] if random.random() < 0.5 else file["air"]


def _group(random: Random, file: Any, secret: Path) -> None:
    groups = [one for one in _things(file) if isinstance(one, h5py.Group) and one.name != "/"]
    group = random.choice(groups)
    way = random.randrange(4)
    if way == 0:
        del file[group.name]
    elif way == 1:
        name = group.name
        del file[name]
        file[name] = np.zeros(3)
    elif way == 2:
        group.create_group(random.choice(("x", "\x1b[31m", "../..", "time", "é" * 300, "a.b")) + str(random.random()))
    else:
        group[random.choice(("x", "\x1b[31m", "fpga"))] = random.choice((np.zeros(3), "text", 1.0))


def _empty(random: Random, file: Any, secret: Path) -> None:
    for key in list(file) if random.random() < 0.5 else list(file.attrs):
        if key in file:
            del file[key]
        else:
            del file.attrs[key]


WAYS = (
    _attribute,
    _attribute,
    _facts,
    _facts,
    _facts,
    _data,
    _data,
    _data,
    _huge,
    _link,
    _link,
    _group,
    _group,
    _empty,
)
