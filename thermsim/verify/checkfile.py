"""What a published check is: the `check.toml` beside its case file."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from importlib.resources import files
from pathlib import Path
from typing import Annotated, Any, Literal, Self, get_args

from pydantic import Field, ValidationError, model_validator

from thermsim.case.errors import nearest
from thermsim.case.fields import Names, Point, Size, Table, Time

AGAIN = "install thermsim again"
CHECKS = Path(str(files("thermsim.verify"))) / "checks"
Command = Literal["run", "check", "loop", "pipes", "leak", "bench", "fit", "chill"]
Section = Literal[
    "conduction", "transients", "boards and joints", "coolant", "air", "heat pipes", "noise", "moist air",
    "steady criteria", "bench",
]  # fmt: skip
SECTIONS: tuple[Section, ...] = get_args(Section)


class CheckError(ValueError):
    """A check that is unknown, or whose file is wrong."""

    exit_status = 2


class Ask(Table):
    """What is asked of the case: a command under an option, with changes by address."""

    command: Command = "run"
    option: str | None = None
    set: dict[str, Any] = Field(default_factory=dict)
    mishaps: Names = ()
    engine: Literal["reduced", "full"] = "reduced"


class Reading(Table):
    """One number of an answer: a fact by its key, or a curve or a sheet of the stored result, in SI and °C.

    Without a `time` (s) the end of the run is read. A sheet is read at a `point`, or its mean over an `area`.
    """

    of: str | None = None  # which ask; by default the row's, or the only one
    key: str | None = None
    curve: str | None = None
    sheet: str | None = None
    point: Point | None = None
    area: tuple[Point, Size] | None = None
    time: Time | None = None

    @model_validator(mode="after")
    def _one_place(self) -> Self:
        if sum(place is not None for place in (self.key, self.curve, self.sheet)) > 1:
            raise ValueError("give one of key, curve and sheet")
        if self.sheet is None and (self.point is not None or self.area is not None):
            raise ValueError("point and area are of a sheet")
        return self


class Row(Reading):
    """A published figure: got is (reading + plus − minus) / over × factor + offset.

    With a `table` of places (points, times or keys) and values, got is the largest difference from them.
    """

    quantity: str
    expected: float = 0.0
    unit: str
    tolerance: Annotated[float, Field(gt=0, allow_inf_nan=False)] | None = None
    tolerance_percent: Annotated[float, Field(gt=0, allow_inf_nan=False)] | None = None
    table: tuple[tuple[str, float], ...] = ()
    plus: Reading | None = None
    minus: Reading | None = None
    over: Reading | None = None
    factor: float = 1.0
    offset: float = 0.0

    @property
    def readings(self) -> list[Reading]:
        """All that it reads."""
        return [self, *(one for one in (self.plus, self.minus, self.over) if one is not None)]

    def asks(self, first: str) -> list[str]:
        """The asks that it reads; `first` where none is named."""
        return [reading.of or self.of or first for reading in self.readings]

    @property
    def allowed(self) -> float:
        """The tolerance in the row's unit."""
        return self.tolerance or abs(self.expected) * (self.tolerance_percent or 0.0) / 100

    @model_validator(mode="after")
    def _can_be_judged(self) -> Self:
        if (self.tolerance is None) == (self.tolerance_percent is None):
            raise ValueError("give tolerance, in the unit, or tolerance_percent")
        if self.table and ("expected" in self.model_fields_set or self.tolerance is None):
            raise ValueError("a table has its own values: no expected, and a tolerance in the unit")
        if not self.table and "expected" not in self.model_fields_set:
            raise ValueError("expected is missing")
        if self.tolerance_percent is not None and self.expected == 0:
            raise ValueError("a share of nothing allows nothing: give tolerance in the unit")
        if not self.table and self.key is None and self.curve is None and self.sheet is None:
            raise ValueError("give one of key, curve and sheet")
        return self


class Check(Table):
    """A check: title, source and rows. `from_memory`: nobody held the source in hand while writing."""

    title: str
    source: str
    from_memory: bool = False
    section: Section
    ask: dict[str, Ask] = Field(default_factory=lambda: {"run": Ask()})
    row: Annotated[tuple[Row, ...], Field(min_length=1)]

    @model_validator(mode="after")
    def _asks_are_there(self) -> Self:
        for row in self.row:
            for reading in row.readings:
                if reading.of is not None and reading.of not in self.ask:
                    raise ValueError(
                        f'row "{row.quantity}": there is no ask "{reading.of}"{nearest(reading.of, self.ask)}'
                    )
        return self


def figures_listed(folder: Path = CHECKS) -> dict[str, int]:
    """Names of all checks and how many figures each has, by the list beside them.

    Raises `CheckError` where that is missing: of a half installation nothing is proved.
    """
    path = folder / "figures.toml"
    listed = tomllib.loads(_text(path))
    if not listed:
        raise CheckError(f"{path}: it lists no check; {AGAIN}")
    return listed


def check_names(folder: Path = CHECKS) -> list[str]:
    """Names of all checks."""
    return sorted(figures_listed(folder))


def read_check(name: str, folder: Path = CHECKS) -> Check:
    """The check of a name. Raises `CheckError` where its file is wrong."""
    path = folder / name / "check.toml"
    try:
        return Check.model_validate(_lists_as_tuples(tomllib.loads(_text(path))))
    except tomllib.TOMLDecodeError as error:
        raise CheckError(f"{path}: not TOML: {error}") from error
    except ValidationError as error:
        told = (f"{'.'.join(map(str, one['loc']))}: {one['msg']}" for one in error.errors())
        raise CheckError("\n".join(f"{path}: {line}" for line in told)) from error


def read_checks(names: Sequence[str] = (), folder: Path = CHECKS) -> dict[str, Check]:
    """The checks of these names (none: all), section by section.

    Raises `CheckError` for an unknown name, and for a check that is not here whole.
    """
    known = figures_listed(folder)
    for name in names:
        if name not in known:
            raise CheckError(f'there is no check "{name}"{nearest(name, known)}; `thermsim verify --list` names them')
    found = {name: read_check(name, folder) for name in (dict.fromkeys(names) or known)}
    for name, check in found.items():
        if len(check.row) != known[name]:
            raise CheckError(f"{folder / name}: {len(check.row)} figures; there should be {known[name]}; {AGAIN}")
    return dict(sorted(found.items(), key=lambda item: (SECTIONS.index(item[1].section), item[0])))


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise CheckError(f"{path}: cannot be read ({error}); {AGAIN}") from error


def _lists_as_tuples(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _lists_as_tuples(item) for key, item in value.items()}
    return tuple(map(_lists_as_tuples, value)) if isinstance(value, list) else value
