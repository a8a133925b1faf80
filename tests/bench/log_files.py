"""Small logs for the tests: one header, one set of rows, and how they are read."""

from pathlib import Path

from thermsim.bench.logs.log import Log
from thermsim.bench.logs.read import read_log
from thermsim.case.benching import Layout

COLUMNS = {"FPGA": "part.fpga", "Link": "part.link", "Room": "room"}
HEAD = "Time [s],FPGA [°C],Link [°C],Room [°C]\n"
STAMPED = "Time,FPGA [°C],Link [°C],Room [°C]\n"
ROWS = "".join(f"{10 * k},{30 + k / 10:.2f},{25 + k / 20:.2f},22.00\n" for k in range(8))
PLAIN = HEAD + ROWS


def read(folder: Path, data: str | bytes, on_at: str | None = None, **layout: object) -> Log:
    """Write a log and read it."""
    path = folder / "run.csv"
    path.write_bytes(data if isinstance(data, bytes) else data.encode())
    return read_log(path, Layout.model_validate({"columns": COLUMNS, **layout}), on_at=on_at)
