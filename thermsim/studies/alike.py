"""Finished results of a case under another name: taken over instead of run again."""

from __future__ import annotations

import json
import shutil
from importlib.metadata import version
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import h5py

from thermsim.case.case import Case, content_of
from thermsim.solve.engine import Engine
from thermsim.store.result import read_result, read_stamp
from thermsim.store.story import seal_of
from thermsim.store.whole import write_json, write_whole


def results_by_content(folder: Path, engine: Engine) -> dict[str, Path]:
    """Whole results of this version and engine in the folders of a folder, by the content of their cases."""
    found = {}
    for path in sorted(folder.glob("*/result.h5")):
        stamp = read_stamp(path)
        if stamp is not None and stamp[1:] == (version("thermsim"), engine):
            found[content_of(read_result(path).case.resolved())] = path
    return found


def take_over(path: Path, case: Case, place: Path) -> None:
    """Make a stored result that of a case alike into the result of that case, in a folder."""
    with TemporaryDirectory(prefix="thermsim-") as folder:
        copy = Path(shutil.copy(path, folder))
        with h5py.File(copy, "r+") as file:
            summary: dict[str, Any] = json.loads(file.attrs["summary"]) | {"option": case.option}
            texts = [json.dumps(one, ensure_ascii=False) for one in (case.resolved(), summary)]
            named = {"case": texts[0], "summary": texts[1], "seal": seal_of(*texts), "fingerprint": case.fingerprint()}
            file.attrs.update(named)
        write_json(place / "summary.json", summary)
        write_whole(place / "result.h5", copy.read_bytes())
