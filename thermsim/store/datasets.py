"""Datasets of a result file that grow with its frames and samples."""

from __future__ import annotations

from typing import Any

import numpy as np

from thermsim.model.sheets import SheetCells
from thermsim.store.layout import sheet_group


def begin_sheet(file: Any, address: str, sheet: SheetCells) -> None:
    """The group of a sheet or plate: its axes, and its temperatures without a frame yet."""
    group = file.create_group(sheet_group(address))
    group.attrs["address"] = address
    x, y = sheet.centres
    time = time_axis(group)
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


def time_axis(group: Any) -> Any:
    """The time of a group, s, without a sample yet."""
    time = group.create_dataset("time", shape=(0,), maxshape=(None,), dtype="f8", chunks=(1024,))
    time.make_scale("time")
    time.attrs.update({"units": "s", "long_name": "time since switch-on", "axis": "T"})
    return time


def append(data: Any, values: Any) -> None:
    """Put values behind what a dataset holds, along its first axis."""
    count = len(values)
    if count:
        data.resize(data.shape[0] + count, axis=0)
        data[-count:] = values
