"""Writing result.h5 while a run goes on.

Old-format HDF5 flushed after every frame: a kill or a full disk leaves `result.h5.part` readable up to the last frame.
The name `result.h5` appears only when the run is whole. One process writes.
"""

from __future__ import annotations

import errno
import json
import os
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import h5py
import numpy as np

from thermsim.model.arrays import Floats
from thermsim.model.system import Model
from thermsim.solve.record import Curve, Frame, Tally
from thermsim.solve.transient import Standing
from thermsim.store.checkpoint import GROUP, Checkpoint, load, save
from thermsim.store.claim import check_ordinary, claim
from thermsim.store.datasets import append, begin_sheet, time_axis
from thermsim.store.layout import CURVE_GROUPS, DAMAGE, SCHEMA, check_replaceable, sheet_group
from thermsim.store.result import result_of
from thermsim.store.room import reserve
from thermsim.store.story import seal_of
from thermsim.store.whole import PARTIAL, settle_folder


class ResultWriter:
    """An open result file. Frames and curves are appended; `finish` closes it and gives it its name.

    An unfinished file of the very same case is taken up where its last checkpoint stands: see `resumed`. Raises
    `ClaimError` where another process writes it, `ResultError` where a file stands that is not to be replaced.
    """

    def __init__(self, path: Path, model: Model, attributes: dict[str, Any]) -> None:
        self.path = path
        self.partial = path.with_name(path.name + PARTIAL)
        self.model = model
        self.resumed: Checkpoint | None = None
        self.file: Any = None
        self._checkpoints = 0
        self._claim = ExitStack()
        self._claim.enter_context(claim(path))
        try:
            check_replaceable(path)
            check_ordinary(self.partial)
            stamp = {"thermsim_schema": SCHEMA, "fingerprint": model.case.fingerprint(), **attributes}
            if not self._take_up(stamp):
                self._begin(stamp)
        except BaseException:
            self.close()
            raise

    def _take_up(self, stamp: dict[str, Any]) -> bool:
        """Open an unfinished file of this case and version, cut back to its last checkpoint; False if there is none."""
        if not self.partial.exists():
            return False
        try:
            self.file = h5py.File(self.partial, "r+")
            self._identity = self.partial.stat()
            if any(self.file.attrs.get(key) != value for key, value in stamp.items()):
                raise KeyError("another case")
            found = load(self.file)
            if found is None:
                raise KeyError("no checkpoint")
            result_of(self.partial, self.file)  # all that is there can be read
            self._checkpoints, self.resumed = found
            self._cut(self.resumed.tally)
        except (OSError, *DAMAGE):
            self._close_file()
            self._checkpoints, self.resumed = 0, None
            return False
        return True

    def _cut(self, tally: Tally) -> None:
        """Drop frames and samples that were written after the checkpoint."""

        def shorten(name: str, item: Any) -> None:
            if isinstance(item, h5py.Dataset) and item.maxshape[0] is None:
                by_frame = name.startswith(("sheets/", "plates/", "ledger/"))
                count = tally.frames if by_frame else tally.samples
                if item.shape[0] < count:
                    raise ValueError(f"{name} holds less than the checkpoint tells")
                item.resize(count, axis=0)

        self.file.visititems(shorten)

    def _begin(self, stamp: dict[str, Any]) -> None:
        case = json.dumps(self.model.case.resolved(), ensure_ascii=False)
        sheets = self.model.site.sheets
        size = 4 * len(case) + sum(32 * (sheet.x.size + sheet.y.size) for sheet in sheets.values())
        self.partial.touch()
        reserve(self.partial, 0, size, 4 * len(sheets))
        self.file = h5py.File(self.partial, "w", libver=("earliest", "v110"))
        self._identity = self.partial.stat()
        self._reserve(size, 4 * len(sheets))
        self.file.attrs.update(
            {
                "Conventions": "CF-1.11",
                "title": self.model.case.title,
                "complete": 0,
                "case": case,
                **stamp,
            }
        )
        for address in sheets:
            begin_sheet(self.file, address, sheets[address])
        self.file.flush()

    def _reserve(self, size: int, datasets: int) -> None:
        """Have room for what is written next: see `store.room`."""
        self._check_stands()
        reserve(self.partial, self.file.id.get_filesize(), size, datasets)

    def frame(self, frame: Frame) -> None:
        """Append the whole fields and the ledger of one time."""
        sheets = self.model.site.sheets
        self._reserve(5 * sum(s.node.size for s in sheets.values()), 2 * len(sheets) + len(frame.ledger) + 2)
        for address, sheet in self.model.site.sheets.items():
            group = self.file[sheet_group(address)]
            values = np.full(sheet.node.shape, np.nan, dtype="f4")
            active = sheet.node >= 0
            values[active] = frame.temperature[sheet.node[active]]
            append(group["temperature"], values[None])
            append(group["time"], [frame.time])
        ledger = {"supplied": frame.supplied, **frame.ledger}
        self._series("ledger", [frame.time], {
            Curve("ledger", name, "W", f"heat leaving by {name}" if name != "supplied" else "heat supplied"): [watts]
            for name, watts in ledger.items()
        })  # fmt: skip
        self.file.flush()

    def curves(self, times: Floats, curves: dict[Curve, list[float]]) -> None:
        """Append samples of all curves (those since the last call)."""
        self._reserve(sum(8 * len(values) for values in curves.values()), len(curves) + len(CURVE_GROUPS))
        groups: dict[str, dict[Curve, list[float]]] = {}
        for curve, values in curves.items():
            groups.setdefault(curve.group, {})[curve] = values
        for name, members in groups.items():
            start = self.file[name]["time"].shape[0] if name in self.file else 0
            taken = len(next(iter(members.values())))
            self._series(name, times[start:taken], {curve: v[start:] for curve, v in members.items()})
        self.file.flush()

    def _series(self, name: str, times: Any, members: dict[Curve, list[float]]) -> None:
        if name not in self.file:
            time_axis(self.file.create_group(name))
        group = self.file[name]
        for curve, values in members.items():
            key = curve.name
            if key not in group:
                data = group.create_dataset(key, shape=(0,), maxshape=(None,), dtype="f8", chunks=(1024,))
                data.attrs.update({"units": curve.unit, "long_name": curve.label})
                data.dims[0].attach_scale(group["time"])
            append(group[key], values)
        append(group["time"], times)

    def stored_curves(self) -> dict[Curve, list[float]]:
        """All curves written so far."""
        return {
            Curve(name, key, data.attrs["units"], data.attrs["long_name"]): list(data[:])
            for name in CURVE_GROUPS
            if name in self.file
            for key, data in self.file[name].items()
            if key != "time"
        }

    def checkpoint(self, standing: Standing, tally: Tally) -> None:
        """Note where the history stands, so that it can be taken up from here."""
        self._reserve(2 * standing.x.nbytes, 2)
        self._checkpoints += 1
        save(self.file, self._checkpoints, Checkpoint(standing, tally))

    def finish(self, summary: dict[str, Any]) -> None:
        """Store the summary, mark the file whole, and give it its name."""
        text = json.dumps(summary, ensure_ascii=False)
        self._reserve(4 * len(text), 1)
        self.file.attrs["summary"] = text
        self.file.attrs["seal"] = seal_of(str(self.file.attrs["case"]), text)
        if GROUP in self.file:
            del self.file[GROUP]
        self.file.attrs["complete"] = 1
        self.file.flush()
        size = self.file.id.get_filesize()
        self._close_file()
        self._check_stands()
        with open(self.partial, "rb+") as handle:
            handle.truncate(size)  # without what was reserved and not needed
            os.fsync(handle.fileno())
        os.replace(self.partial, self.path)
        settle_folder(self.path.parent)

    def close(self) -> None:
        """Leave the file as it is, unfinished if it is not finished, to whoever writes next."""
        self._close_file()
        self._claim.close()

    def _check_stands(self) -> None:
        """Raise `FileNotFoundError` if the name no longer leads to the file that is written."""
        if not os.path.samestat(self.partial.stat(), self._identity):
            raise FileNotFoundError(errno.ENOENT, "replaced while it was written", str(self.partial))

    def _close_file(self) -> None:
        if self.file:
            self.file.close()
