"""The `[bench]` tables: what the logs of a bench hold, and which runs there are."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field

from thermsim.case.fields import Difference, Names, Table, Temperature, Time

BASE = "base"  # as the name of an option: the base case


def _known_encoding(name: str) -> str:
    try:
        "".encode(name)  # of text, not such as base64
    except LookupError:
        raise ValueError(f'unknown encoding "{name}"; for example "utf-8", "utf-16" or "cp1252"') from None
    return name


def _base_is_none(name: Any) -> Any:
    return None if name == BASE else name


class Layout(Table):
    """How a log is written, and what its columns are. What is not said is found out, or asked for; never guessed."""

    columns: dict[str, str] = Field(default_factory=dict)  # header, with or without its unit: channel
    units: dict[str, str] = Field(default_factory=dict)  # header, with or without its unit: unit
    unit: Literal["degC", "degF", "K"] | None = None  # of temperatures whose header has none
    time: Names = ()  # headers of the columns that make up the time; the first column
    time_format: str | None = None  # of strptime
    decimal: Literal[".", ","] | None = None
    delimiter: Literal[",", ";", "tab"] | None = None
    encoding: Annotated[str, AfterValidator(_known_encoding)] | None = None

    def of(self, run: Layout) -> Layout:
        """This layout where the run says nothing else; a channel the run has columns for is the run's alone."""
        taken = set(run.columns.values())
        kept = {header: channel for header, channel in self.columns.items() if channel not in taken}
        own = {key: getattr(run, key) or getattr(self, key) for key in Layout.model_fields}
        own |= {"columns": {**kept, **run.columns}, "units": {**self.units, **run.units}}
        return Layout.model_construct(**own)


class LoggedRun(Layout):
    """One run on the bench, with its log; its own keys go before those of `[bench]`."""

    file: str  # beside the case file
    stands: Literal["before", "after", "other"] = "other"
    option: Annotated[str | None, BeforeValidator(_base_is_none)] = None  # what stood on the bench
    on_at: str | None = None  # switch-on as a time of the log; the first reading


class Touch(Table):
    """A surface that hands reach: what it is of, and how long it is touched."""

    material: Literal["metal", "glass", "plastic"] = "metal"
    contact: Time = 5.0
    limit: Temperature | None = None  # in place of the standard's for that


class Bench(Layout):
    """Runs on the bench and how their logs are written."""

    probe_noise: Difference = 0.05  # K, standard uncertainty, reading to reading; common practice, no source
    calibration: Difference = 0.3  # K, standard uncertainty of one probe, as of type T (IEC 60584-1, class 1)
    moved: Names = ()  # channels whose probe did not stay in place between before and after
    paired: bool = False  # the first before belongs to the first after, and so on
    window: Time = 600.0  # at the end of a run, over which readings are averaged
    repeatability: Difference = 0.2  # K, standard deviation run to run, of single runs; common practice, no source
    same_watts: bool = False  # rises are scaled to the same supply watts
    touch: dict[str, Touch] = Field(default_factory=dict)  # by channel of a temperature
    run: dict[str, LoggedRun] = Field(default_factory=dict)
