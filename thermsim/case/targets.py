"""What uncertain inputs point to in a case, how their values are moved, and whether their spreads make sense."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fnmatch import fnmatchcase
from typing import Any

from thermsim import units
from thermsim.case.address import NAMED_KINDS, most_allowed, reader_of, unknown_key
from thermsim.case.errors import Finding, KeyPath, nearest
from thermsim.case.lines import dotted, split_address
from thermsim.case.references import added_by_options, tables
from thermsim.case.schema import Spec
from thermsim.case.uncertain import CUT, Uncertain


@dataclass(frozen=True)
class Target:
    """One address that an uncertain input moves: its key path, the case's value there (SI, °C), its dimension.

    `dimension` is None for a bare number. The value may be a number, watts by state, a curve or two emissivities.
    """

    path: tuple[str, ...]
    value: Any
    dimension: str | None

    @property
    def address(self) -> str:
        """The address as text."""
        return dotted(self.path)

    @property
    def nominal(self) -> float | None:
        """The value where it is one number."""
        return float(self.value) if isinstance(self.value, int | float) else None

    def scaled(self, factor: float) -> Any:
        """The value times a factor, as a change of the case would write it; a curve's second numbers (pressures)."""
        value = self.value
        if isinstance(value, dict):
            return {state: self.written(factor * watts) for state, watts in value.items()}
        if isinstance(value, tuple) and isinstance(value[0], tuple):
            first, second = (units.base_unit(one) for one in reader_of(self.path)["dimensions"])
            return [f"{x:.10g} {first}, {factor * y:.10g} {second}" for x, y in value]
        if isinstance(value, tuple):
            return [min(factor * one, 1.0) for one in value]  # emissivities
        return self.written(factor * value)

    def shifted(self, by: float) -> Any:
        """The value and so much more, as a change of the case would write it."""
        return self.written(self.value + by)

    def written(self, value: float) -> str | float:
        """A value (SI, °C) as a change of the case would write it; no more than the key allows."""
        value = float(min(value, most_allowed(self.path)))
        return value if self.dimension is None else f"{value:.10g} {units.base_unit(self.dimension)}"


def targets(spec: Spec, address: str) -> list[Target]:
    """What an address points to in a case, wildcards in the name expanded. Raises `ValueError` with what is wrong.

    Nothing where what it names is not there but comes or goes with an option.
    """
    path = split_address(address)
    if path is None:
        raise ValueError(f'"{address}" is not an address such as joint.paste.resistance')
    if path[0] == "box":
        raise ValueError("the box is written out as sheets, walls and films: say film.box_*_outside.h or the like")
    if path[0] not in NAMED_KINDS:
        return [_target(spec, path)]
    names = tables(spec, path[0]) if unknown_key(path[:1]) is None else {}
    found = [name for name in names if name == path[1] or fnmatchcase(name, path[1])] if len(path) > 1 else []
    if found:
        if "*" in path[1] or "?" in path[1]:  # those that have the key
            every = [(path[0], name, *path[2:]) for name in found]
            message = unknown_key(every[0])
            if message:
                raise ValueError(message)
            stated = [one for one in every if value_at(spec, one) is not None]
            return [_target(spec, one) for one in stated or every[:1]]
        return [_target(spec, path)]
    message = unknown_key(path)
    if message:
        raise ValueError(message)
    if len(path) > 1 and _comes_or_goes(spec, path):
        return []
    name = path[1] if len(path) > 1 else ""
    raise ValueError(f'there is no {path[0]} "{name}"{nearest(name, names)}')


def _comes_or_goes(spec: Spec, path: tuple[str, ...]) -> bool:
    if path[0] == "governor" and not spec.governor:  # taken out to hold the speeds
        return True
    elsewhere = added_by_options(spec) | {text for option in spec.option.values() for text in option.remove}
    return any(fnmatchcase(address, f"{path[0]}.{path[1]}") for address in elsewhere)


def _target(spec: Spec, path: tuple[str, ...]) -> Target:
    message = unknown_key(path)
    if message:
        raise ValueError(message)
    value = value_at(spec, path)
    if value is None:
        raise ValueError(f"{dotted(path)} is not stated in this case")
    how = reader_of(path)
    dimension = "temperature" if path[0] == "airway" and path[-1] == "inlet" else how.get("dimension")
    if path[0] == "part" and path[2:3] == ("watts",):  # in one state
        dimension = "power"
    emissivities = path[0] == "radiation" and path[-1] == "emissivity"
    flow_curve = how.get("dimensions") == ("flow", "pressure")
    by_state = isinstance(value, dict) and bool(value) and path[-1] == "watts"
    number = isinstance(value, float)
    if not (number or by_state or emissivities or flow_curve):
        raise ValueError(f"{dotted(path)} is not a number that can be uncertain")
    return Target(path, value, dimension)


def owned_targets(spec: Spec, named: Mapping[str, Sequence[str]]) -> dict[str, list[Target]]:
    """What each of several names moves by its addresses, every target once. Raises as `targets` does.

    What two of them point to belongs to the one that spells it out, else to the first.
    """
    found = {name: [(address, one) for address in of for one in targets(spec, address)] for name, of in named.items()}
    owner: dict[tuple[str, ...], str] = {}
    for spelt_out in (True, False):
        for name, mine in found.items():
            for address, one in mine:
                if (split_address(address) == one.path) == spelt_out:
                    owner.setdefault(one.path, name)
    return {
        name: list({one.path: one for _, one in mine if owner[one.path] == name}.values())
        for name, mine in found.items()
    }


def value_at(spec: Spec, path: KeyPath) -> Any:
    """The value at a key path of a checked case, None where there is none."""
    value: Any = spec
    for key in path:
        value = value.get(key) if isinstance(value, dict) else getattr(value, str(key), None)
    return value


@dataclass(frozen=True)
class Spread:
    """How far an input is from its value: as a factor or a shift.

    `low`, `high`: the ends, as factor or shift; for normal laws two standard deviations either side.
    """

    is_factor: bool
    low: float
    high: float


def spread_of(table: Uncertain, found: list[Target]) -> Spread:
    """The spread of an uncertain input about its targets' values. Raises `ValueError` with what is wrong."""
    first = found[0]
    spread = _between(table, found) if table.spread is None else _spread(table.spread, first)
    if spread.low >= spread.high:
        raise ValueError("low must be below high" if table.spread is None else "the spread must be above zero")
    if table.law == "lognormal" and not spread.is_factor:
        raise ValueError('a lognormal law needs a spread such as "30 %", or low and high above zero')
    if table.law == "lognormal" and table.spread is not None:
        spread = Spread(True, 1 / spread.high, spread.high)
    if table.law == "triangular" and not spread.low <= float(spread.is_factor) <= spread.high:
        raise ValueError("the case's own value, where a triangle peaks, must be between low and high")
    _require_possible(table.law, spread, found)
    return spread


def _spread(text: str | float, first: Target) -> Spread:
    if isinstance(text, str) and text.strip().endswith("%"):
        if first.dimension == "temperature":
            raise ValueError('the spread of a temperature is in kelvin, for example "2 K"')
        share = units.quantity(text, "fraction")
        return Spread(True, 1 - share, 1 + share)
    if first.nominal is None:
        raise ValueError('several numbers are moved by a factor: the spread must be one such as "10 %"')
    width = _read(text, first, of_spread=True)
    return Spread(False, -width, width)


def _between(table: Uncertain, found: list[Target]) -> Spread:
    first = found[0]
    if any(target.value != first.value for target in found) or first.nominal is None:
        raise ValueError("low and high stand for one value; give a spread to inputs that differ")
    low, high = (_read(text, first) for text in (table.low, table.high))
    if table.law == "lognormal":
        if first.nominal <= 0 or low <= 0 or first.dimension == "temperature":
            raise ValueError("a lognormal law needs values above zero, and no temperatures")
        return Spread(True, low / first.nominal, high / first.nominal)
    return Spread(False, low - first.nominal, high - first.nominal)


def _read(text: str | float | None, first: Target, of_spread: bool = False) -> float:
    if first.dimension is None:
        if isinstance(text, str) or text is None:
            raise ValueError(f"{first.address} is a bare number; expected one such as 0.05")
        return float(text)
    of_difference = of_spread and first.dimension == "temperature"
    return units.quantity(text, "difference" if of_difference else first.dimension)


def _require_possible(law: str, spread: Spread, found: list[Target]) -> None:
    """No draw may reach zero, where values must be above it."""
    lowest = spread.low
    if law == "normal":
        middle, half = (spread.low + spread.high) / 2, (spread.high - spread.low) / 2
        lowest = middle - CUT / 2 * half
    for target in found:
        if target.dimension == "temperature":
            continue
        if (lowest if spread.is_factor else (target.nominal or 0.0) + lowest) <= 0:
            hint = '; law = "lognormal" stays above zero' if law != "lognormal" else ""
            raise ValueError(f"{target.address} might come down to zero or below with so wide a spread{hint}")


def _is_a_bound(address: str) -> bool:
    path = split_address(address) or ("",)
    return path[0] == "must_have" or (path[0], path[-1]) in (("part", "limit"), ("heat_pipe", "margin"))


def check_uncertain(spec: Spec) -> Iterator[Finding]:
    """Every uncertain input points to numbers that are there, and has a spread that makes sense."""
    for name, table in spec.uncertain.items():
        found: list[Target] = []
        bounds = [k for k, address in enumerate(table.of) if _is_a_bound(address)]
        if bounds:
            yield ("uncertain", name, "of", bounds[0]), "what a result is held against is no input; state it as it is"
            continue
        for number, address in enumerate(table.of):
            try:
                found += targets(spec, address)
            except ValueError as error:
                yield ("uncertain", name, "of", number), str(error)
                break
        else:
            try:
                if found:
                    spread_of(table, found)
            except ValueError as error:
                at = "spread" if table.spread is not None else "low"
                yield ("uncertain", name, at), str(error)
