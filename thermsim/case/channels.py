"""Channels: what a column of a bench log may stand for, as an address such as `part.fpga` or `loop.main.flow`."""

from __future__ import annotations

from thermsim.case.errors import nearest
from thermsim.case.references import added_by_options, tables
from thermsim.case.schema import Spec

IGNORE = "ignore"
TEXT = "text"  # the dimension of a column of words
MANY = ("room",)  # several columns may be the same channel

# dimensions (of `units`) that a column may come in; the first is what it is kept in
_TEMPERATURE = ("temperature",)
_SPEED = ("fraction", "rotation")  # share of the rated speed
_ENDS: dict[str, tuple[str, ...]] = {"inlet": _TEMPERATURE, "outlet": _TEMPERATURE}
_PLAIN: dict[str, tuple[str, ...]] = {
    "room": _TEMPERATURE,
    "humidity": ("fraction",),
    "supply.watts": ("power",),
    "supply.volts": ("voltage",),
    "supply.amps": ("current",),
    "noise": ("level",),
    "noise.background": ("level",),
    "pressure": ("pressure",),
    "atmosphere": ("pressure",),
    "temperature": _TEMPERATURE,
    "state": (TEXT,),
    "event": (TEXT,),
    IGNORE: (TEXT,),
}
_NAMED: dict[str, dict[str, tuple[str, ...]]] = {
    "part": {"": _TEMPERATURE, "watts": ("power",)},
    "probe": {"": _TEMPERATURE},
    "airway": {**_ENDS, "flow": ("flow",)},
    "plate": _ENDS,
    "block": _ENDS,
    "radiator": _ENDS,
    "hose": _ENDS,
    "reservoir": _ENDS,
    "loop": {"flow": ("flow",), "pressure": ("pressure",)},
    "fan": {"": _SPEED},
    "pump": {"": _SPEED},
}


def split_channel(address: str) -> tuple[str, str, str]:
    """Kind, name and quantity: `("airway", "main", "outlet")`, `("part", "fpga", "")`, `("room", "", "")`.

    A part may be called "clock.watts" no more than "watts": what follows the last dot is a quantity where it can be.
    """
    kind, _, rest = address.partition(".")
    if address in _PLAIN or kind not in _NAMED:
        return kind, "", rest
    name, dot, quantity = rest.rpartition(".")
    return (kind, name, quantity) if dot and quantity in _NAMED[kind] else (kind, rest, "")


def dimensions_of(address: str) -> tuple[str, ...]:
    """Dimensions that a column of this channel may come in; nothing if the address is no channel."""
    if address in _PLAIN:
        return _PLAIN[address]
    kind, _, quantity = split_channel(address)
    return _NAMED.get(kind, {}).get(quantity, ())


def is_temperature(address: str) -> bool:
    """Whether the channel is a temperature."""
    return dimensions_of(address) == _TEMPERATURE


def wrong_channel(spec: Spec, address: str) -> str | None:
    """What is wrong with the channel of a column; None if nothing is. Things that an option adds count as there."""
    kind, name, quantity = split_channel(address)
    if address in _PLAIN:
        return None
    if kind not in _NAMED:
        hint = nearest(address, channels(spec)) or nearest(kind, [*_NAMED, *_PLAIN])
        return (
            f'"{address}" is no channel{hint or "; for example part.NAME, room, airway.NAME.outlet, state or ignore"}'
        )
    if not dimensions_of(address):
        known = [f"{kind}.{name}.{one}" for one in _NAMED[kind]]
        return f'"{address}" does not say which: {" or ".join(known)}'
    there = {*tables(spec, kind), *(one.partition(".")[2] for one in _added(spec, kind))}
    if name in there:
        return None
    end = f".{quantity}" if quantity else ""
    return f'there is no {kind} "{name}"{nearest(address, [f"{kind}.{one}{end}" for one in sorted(there)])}'


def is_there(spec: Spec, address: str) -> bool:
    """Whether the case, as it is without its options, has the thing that a channel is of."""
    kind, name, _ = split_channel(address)
    return kind not in _NAMED or address in _PLAIN or name in tables(spec, kind)


def channels(spec: Spec) -> list[str]:
    """Every channel that a case may be logged by, its options' own things among them."""
    named = [
        f"{kind}.{name}{'.' if quantity else ''}{quantity}"
        for kind, quantities in _NAMED.items()
        for name in dict.fromkeys([*tables(spec, kind), *(one.partition(".")[2] for one in _added(spec, kind))])
        for quantity in quantities
    ]
    return [*named, *_PLAIN]


def _added(spec: Spec, kind: str) -> list[str]:
    return sorted(address for address in added_by_options(spec) if address.startswith(f"{kind}."))
