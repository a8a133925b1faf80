"""Writing result.h5 while a run goes on.

Old-format HDF5 flushed after every frame: a kill leaves `result.h5.part` readable up to the last frame. The
name `result.h5` appears only when the run is whole.
"""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import h5py
import numpy as np

from thermsim.model.arrays import Floats
from thermsim.model.system import Model
from thermsim.solve.record import Curve, Frame, Tally
from thermsim.solve.transient import Standing
from thermsim.store.checkpoint import GROUP, Checkpoint, load, save

SCHEMA = 1
PARTIAL = ".part"
CURVE_GROUPS = ("parts", "solids", "air", "coolant", "governor", "noise", "probes")


class ResultWriter:
    """An open result file. Frames and curves are appended; `finish` closes it and gives it its name.

    An unfinished file of the very same case is taken up where its last checkpoint stands: see `resumed`.
    """

    def __init__(self, path: Path, model: Model, attributes: dict[str, Any]) -> None:
        self.path = path
        self.partial = path.with_name(path.name + PARTIAL)
        self.model = model
        self.resumed: Checkpoint | None = None
        self.file: Any = None
        self._checkpoints = 0
        path.parent.mkdir(parents=True, exist_ok=True)
        stamp = {"fingerprint": model.case.fingerprint(), **attributes}
        if not self._take_up(stamp):
            self._begin(stamp)

    def _take_up(self, stamp: dict[str, Any]) -> bool:
        """Open an unfinished file of this case and version, cut back to its last checkpoint; False if there is none."""
        if not self.partial.exists():
            return False
        try:
            self.file = h5py.File(self.partial, "r+")
            if any(self.file.attrs.get(key) != value for key, value in stamp.items()):
                raise KeyError("another case")
            found = load(self.file)
            if found is None:
                raise KeyError("no checkpoint")
            self._checkpoints, self.resumed = found
            self._cut(self.resumed.tally)
        except (OSError, KeyError, ValueError):
            self.close()
            self.resumed = None
            return False
        return True

    def _cut(self, tally: Tally) -> None:
        """Drop frames and samples that were written after the checkpoint."""

        def shorten(name: str, item: Any) -> None:
            if isinstance(item, h5py.Dataset) and item.maxshape[0] is None:
                by_frame = name.startswith(("sheets/", "plates/", "ledger/"))
                item.resize(tally.frames if by_frame else tally.samples, axis=0)

        self.file.visititems(shorten)

    def _begin(self, stamp: dict[str, Any]) -> None:
        self.file = h5py.File(self.partial, "w", libver=("earliest", "v110"))
        self.file.attrs.update(
            {
                "Conventions": "CF-1.11",
                "title": self.model.case.title,
                "thermsim_schema": SCHEMA,
                "complete": 0,
                "case": json.dumps(self.model.case.resolved(), ensure_ascii=False),
                **stamp,
            }
        )
        for address in self.model.site.sheets:
            self._prepare_sheet(address)
        self.file.flush()

    def _prepare_sheet(self, address: str) -> None:
        sheet = self.model.site.sheets[address]
        group = self.file.create_group(sheet_group(address))
        group.attrs["address"] = address
        x, y = sheet.centres
        time = _time_axis(group)
        for name, values, edges, axis in (("y", y, sheet.y, "Y"), ("x", x, sheet.x, "X")):
            scale = group.create_dataset(name, data=values)
            scale.make_scale(name)
            scale.attrs.update({"units": "m", "long_name": f"cell centre {name}", "axis": axis})
            group.attrs[f"{name}_edges"] = edges
        field = group.create_dataset(
            "temperature", shape=(0, y.size, x.size), maxshape=(None, y.size, x.size), dtype="f4",
            chunks=(1, y.size, x.size), compression="gzip", compression_opts=1, shuffle=True, fillvalue=np.nan,
        )  # fmt: skip
        field.attrs.update({"units": "degC", "standard_name": "temperature", "long_name": f"temperature of {address}"})
        for dimension, scale in zip(field.dims, (time, group["y"], group["x"]), strict=True):
            dimension.attach_scale(scale)

    def frame(self, frame: Frame) -> None:
        """Append the whole fields and the ledger of one time."""
        for address, sheet in self.model.site.sheets.items():
            group = self.file[sheet_group(address)]
            values = np.full(sheet.node.shape, np.nan, dtype="f4")
            active = sheet.node >= 0
            values[active] = frame.temperature[sheet.node[active]]
            _append(group["temperature"], values[None])
            _append(group["time"], [frame.time])
        ledger = {"supplied": frame.supplied, **frame.ledger}
        self._series("ledger", [frame.time], {
            Curve("ledger", name, "W", f"heat leaving by {name}" if name != "supplied" else "heat supplied"): [watts]
            for name, watts in ledger.items()
        })  # fmt: skip
        self.file.flush()

    def curves(self, times: Floats, curves: dict[Curve, list[float]]) -> None:
        """Append samples of all curves (those since the last call)."""
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
            _time_axis(self.file.create_group(name))
        group = self.file[name]
        for curve, values in members.items():
            key = curve.name
            if key not in group:
                data = group.create_dataset(key, shape=(0,), maxshape=(None,), dtype="f8", chunks=(1024,))
                data.attrs.update({"units": curve.unit, "long_name": curve.label})
                data.dims[0].attach_scale(group["time"])
            _append(group[key], values)
        _append(group["time"], times)

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
        self._checkpoints += 1
        save(self.file, self._checkpoints, Checkpoint(standing, tally))

    def finish(self, summary: dict[str, Any]) -> None:
        """Store the summary, mark the file whole, and give it its name."""
        self.file.attrs["summary"] = json.dumps(summary, ensure_ascii=False)
        if GROUP in self.file:
            del self.file[GROUP]
        self.file.attrs["complete"] = 1
        self.file.close()
        with open(self.partial, "rb+") as handle:
            os.fsync(handle.fileno())
        os.replace(self.partial, self.path)

    def close(self) -> None:
        """Leave the file as it is, unfinished."""
        if self.file:
            self.file.close()


def sheet_group(address: str) -> str:
    """HDF5 group of a sheet or plate: `sheets/board`, `plates/main`."""
    kind, name = address.split(".", 1)
    return f"{kind}s/{name}"


def _time_axis(group: Any) -> Any:
    time = group.create_dataset("time", shape=(0,), maxshape=(None,), dtype="f8", chunks=(1024,))
    time.make_scale("time")
    time.attrs.update({"units": "s", "long_name": "time since switch-on", "axis": "T"})
    return time


def _append(data: Any, values: Any) -> None:
    count = len(values)
    if count:
        data.resize(data.shape[0] + count, axis=0)
        data[-count:] = values
