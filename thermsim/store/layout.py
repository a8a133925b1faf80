"""How a result file is laid out, and whose files are left alone."""

from __future__ import annotations

from pathlib import Path

import h5py

SCHEMA = 1
# what reading a damaged file may raise, besides OSError
DAMAGE = (RuntimeError, LookupError, ValueError, TypeError, AttributeError, ArithmeticError, MemoryError, EOFError)
CURVE_GROUPS = ("parts", "solids", "air", "coolant", "governor", "noise", "probes")


class ResultError(ValueError):
    """A file that is no result, or of a version this one cannot read."""

    exit_status = 2


def sheet_group(address: str) -> str:
    """HDF5 group of a sheet or plate: `sheets/board`, `plates/main`."""
    kind, name = address.split(".", 1)
    return f"{kind}s/{name}"


def check_layout(path: Path, schema: object) -> None:
    """Raise `ResultError` unless the layout noted in an HDF5 file is one this version knows."""
    try:
        number = int(schema)  # type: ignore[call-overload]
    except (TypeError, ValueError):
        raise ResultError(f"{path}: an HDF5 file, but not a thermsim result") from None
    if number > SCHEMA:
        raise ResultError(f"{path}: written by a newer thermsim (layout {number}; this one reads up to {SCHEMA})")


def check_replaceable(path: Path) -> None:
    """Raise `ResultError` if a new result would take the place of a newer version's or of another program's file.

    A file that cannot be opened, as one cut short, is worth nothing and may go.
    """
    if path.exists() and not path.is_file():
        what = "is a folder" if path.is_dir() else "is no ordinary file"
        raise ResultError(f"{path} {what}, where a result is to go: choose another folder (-o)")
    try:
        with h5py.File(path, "r") as file:
            schema = file.attrs.get("thermsim_schema")
    except (OSError, RuntimeError, KeyError):
        return
    try:
        check_layout(path, schema)
    except ResultError as error:
        raise ResultError(f"{error}; it is left as it is: choose another folder (-o)") from None
