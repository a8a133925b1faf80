"""How far inputs are usually off where a case does not say: common practice, no source."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from thermsim.case.errors import KeyPath
from thermsim.case.lines import dotted
from thermsim.case.references import tables
from thermsim.case.schema import Spec
from thermsim.case.targets import value_at
from thermsim.case.uncertain import Uncertain

NOTE = "assumed spreads: common practice, no source; state your own in [uncertain.NAME]"


@dataclass(frozen=True)
class Usual:
    """A spread for every key of a kind of table."""

    kind: str
    keys: tuple[str, ...]
    spread: str


USUAL = (
    Usual("part", ("watts",), "10 %"),
    Usual("part", ("to_board",), "30 %"),
    Usual("sheet", ("conductivity",), "30 %"),  # how much copper a board has
    Usual("joint", ("resistance", "resistivity", "conductance", "bond_line"), "30 %"),
    Usual("heat_pipe", ("resistance",), "30 %"),
    Usual("film", ("h",), "20 %"),
    Usual("sink", ("resistance",), "20 %"),
    Usual("radiation", ("emissivity",), "10 %"),
    Usual("film", ("emissivity",), "10 %"),
    Usual("airway", ("resistance", "filter"), "20 %"),
    Usual("airway", ("flow",), "10 %"),
    Usual("airway", ("inlet",), "2 K"),
    Usual("fan", ("curve",), "10 %"),
    Usual("fan", ("noise",), "2 dB(A)"),
    Usual("pump", ("curve",), "10 %"),
    Usual("radiator", ("conductance",), "20 %"),
    Usual("radiator", ("drop",), "20 %"),
    Usual("block", ("resistance",), "20 %"),
    Usual("block", ("drop",), "20 %"),
    Usual("loop", ("flow",), "10 %"),
)
ROOM = "2 K"


def usual_spreads(spec: Spec) -> dict[str, Uncertain]:
    """Uncertain inputs by name for a case that states none; the films that one [box] makes move together."""
    found = {"room.temperature": Uncertain(of=("room.temperature",), spread=ROOM)}
    for usual in USUAL:
        for name, addresses in _of(spec, usual):
            found[name] = Uncertain(of=addresses, spread=usual.spread)
    return found


def _of(spec: Spec, usual: Usual) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Names of inputs of a kind, and the addresses of each."""
    together: dict[str, list[str]] = {}
    for name in tables(spec, usual.kind):
        for key in usual.keys:
            path: KeyPath = (usual.kind, name, key)
            if _is_moved(value_at(spec, path)):
                address = dotted(path)
                together.setdefault(_of_the_box(name, key) or address, []).append(address)
    yield from ((name, tuple(addresses)) for name, addresses in together.items())


def _is_moved(value: object) -> bool:
    """Whether a value is a number above zero, or several numbers."""
    if isinstance(value, dict):
        return any(value.values())
    return isinstance(value, tuple) or (isinstance(value, float) and value != 0)


def _of_the_box(name: str, key: str) -> str | None:
    """One name for the films that [box] writes out for its faces."""
    for place in ("outside", "inside"):
        if name.startswith("box_") and name.endswith(f"_{place}"):
            return f"box.{place}.{key}"
    return None
