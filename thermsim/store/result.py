"""A result in memory: fields, curves, ledger and summary, as read back from its file."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import h5py

from thermsim.case.case import Case
from thermsim.model.arrays import Floats
from thermsim.store.layout import CURVE_GROUPS, DAMAGE, ResultError, check_layout, sheet_group
from thermsim.store.sound import check_file, check_inside, check_rising, curve_of, field_of, text_of
from thermsim.store.story import check_story, seal_of

if TYPE_CHECKING:
    import xarray

MOST_PACKED = 1100  # times; deflate does no better


@dataclass(frozen=True)
class SheetField:
    """Temperatures of a sheet: `temperature` °C, shape (frames, rows, columns), NaN where it has no cell.

    `x_edges`, `y_edges`: grid lines, m; `time`: s, shape (frames,).
    """

    address: str
    time: Floats
    x_edges: Floats
    y_edges: Floats
    temperature: Floats


@dataclass(frozen=True)
class Series:
    """A curve: `values` in `unit` at `time` (s), both shape (samples,)."""

    time: Floats
    values: Floats
    unit: str
    label: str


@dataclass(frozen=True)
class Result:
    """One stored run. `summary` holds the same facts as summary.json; `complete` is False for a run that was cut."""

    path: Path
    case: Case
    summary: dict[str, Any]
    complete: bool
    fields: dict[str, SheetField]
    curves: dict[str, dict[str, Series]]

    @property
    def option(self) -> str | None:
        """Name of the option, None for the base case."""
        return self.case.option

    def part(self, name: str) -> Series:
        """Temperature of a part over time."""
        return self.curves["parts"][name]

    def sheet(self, name: str) -> xarray.Dataset:
        """A sheet or plate as an xarray dataset with dims time, y, x (needs the extra `xarray`)."""
        import xarray

        address = name if "." in name else f"sheet.{name}"
        return xarray.open_dataset(self.path, group=sheet_group(address), engine="h5netcdf", decode_timedelta=False)

    def curves_dataset(self, group: str = "parts") -> xarray.Dataset:
        """The curves of a group (parts, air, coolant, governor, noise, probes, ledger) as an xarray dataset."""
        import xarray

        return xarray.open_dataset(self.path, group=group, engine="h5netcdf", decode_timedelta=False)


def read_result(path: str | Path) -> Result:
    """Read a result file (or the folder that holds result.h5). An unfinished one reads up to its last frame."""
    path = Path(path)
    if path.is_dir():
        whole = path / "result.h5"
        path = whole if whole.exists() else path / "result.h5.part"
    if not path.exists():
        raise ResultError(f"{path}: there is no result here; make one with `thermsim run`")
    check_file(path)
    try:
        with h5py.File(path, "r") as file:
            check_layout(path, file.attrs.get("thermsim_schema"))
            return result_of(path, file)
    except ResultError:
        raise
    except BlockingIOError as error:
        raise ResultError(f"{path}: another process writes it just now") from error
    except OSError as error:
        raise ResultError(f"{path}: not a readable HDF5 file ({error})") from error
    except DAMAGE as error:
        raise ResultError(f"{path}: a damaged result ({error}); make it again with `thermsim run`") from error


def read_stamp(path: Path) -> tuple[str, str, str] | None:
    """Fingerprint of the case, version and engine asked for, of a whole result; None if it cannot be read as one."""
    try:
        if not path.exists() or not read_result(path).complete:
            return None
        with h5py.File(path, "r") as file:
            if file.attrs["seal"] != seal_of(file.attrs["case"], file.attrs["summary"]):
                return None
            return tuple(str(file.attrs[key]) for key in ("fingerprint", "version", "engine"))  # type: ignore[return-value]
    except (OSError, KeyError, ResultError):
        return None


def result_of(path: Path, file: Any) -> Result:
    """All that an open file holds. Raises any of `DAMAGE` where that is not what a run writes."""
    check_inside(file)
    file.visititems(_check_size)
    fields = {}
    for kind in ("sheets", "plates"):
        for name, group in file.get(kind, {}).items():
            address = f"{kind[:-1]}.{name}"
            field = SheetField(address, *field_of(group))
            if field.time.size:
                fields[address] = field
            elif file.attrs["complete"]:
                raise ValueError(f"{address} has no frame")
    groups = {name: _read_curves(file[name]) for name in (*CURVE_GROUPS, "ledger") if name in file}
    curves = {name: group for name, group in groups.items() if group}
    case = Case.from_resolved(json.loads(file.attrs["case"]))
    summary = json.loads(file.attrs.get("summary", "{}"))
    check_story(case.spec, summary, fields, curves)
    return Result(path, case, summary, bool(file.attrs["complete"]), fields, curves)


def _check_size(name: str, item: Any) -> None:
    """Refuse a dataset that tells of far more than it holds, before it is read into memory."""
    if isinstance(item, h5py.Dataset) and item.nbytes > MOST_PACKED * (item.id.get_storage_size() + 1024):
        raise ValueError(f"{name} would be {item.nbytes:.3g} bytes")


def _read_curves(group: Any) -> dict[str, Series]:
    count = min(data.shape[0] for data in group.values())
    time = curve_of(group["time"], count)
    if not count:
        return {}
    check_rising(time, f"times of {group.name}")
    return {
        name: Series(time, curve_of(data, count), text_of(data, "units"), text_of(data, "long_name"))
        for name, data in group.items()
        if name != "time"
    }
