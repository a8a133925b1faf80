"""Random boxes as plain tables, and the same box mirrored, with streams reversed, tables shuffled, and so on."""

import copy
import random
from typing import Any

from random_boxes import random_case

from thermsim import units
from thermsim.case import Case
from thermsim.model.build import build
from thermsim.model.system import Model

Tables = dict[str, Any]
SMALL = 0.3  # of the size of the engines' random boxes: a few hundred unknowns
SEGMENTS = (7, 11, 13, 17)
OPPOSITE = {"left": "right", "right": "left", "front": "back", "back": "front"}
ORDERLESS = (
    "sheet",
    "part",
    "film",
    "joint",
    "radiation",
    "edge",
    "source",
    "heat_pipe",
    "sink",
    "wall",
    "fan",
    "hose",
)


def random_tables(seed: int, share: float = SMALL) -> Tables:
    """The tables of a random box, its case written out as sheets and walls, without mishaps.

    Airways have a number of segments whose ends meet no cell's centre: there either of two would do.
    """
    tables: Tables = copy.deepcopy(random_case(seed, share).resolved())
    del tables["applied"], tables["mishap"]
    unit = units.quantity(tables["run"]["cell"], "length")
    for way in tables.get("airway", {}).values():
        if "size" in way:
            counts = [round(side / unit) for side in pair(way["size"], " x ")]
            way["segments"] = next(n for n in SEGMENTS if all(count % n for count in counts))
    return tables


def built(tables: Tables) -> Model:
    """The model of a case's tables."""
    return build(Case.from_dict(tables))


def pair(text: str, between: str) -> list[float]:
    """Two lengths of a case file, m: "10, 20 mm" or "10 x 20 mm"."""
    *numbers, unit = text.replace(between, " ").split()
    return [units.quantity(f"{number} {unit}", "length") for number in numbers]


def without_courses(tables: Tables) -> Tables:
    """The same box with nothing that changes over time by itself."""
    return {kind: table for kind, table in tables.items() if kind not in ("duty", "governor")}


def of_fixed_laws(tables: Tables) -> Tables:
    """The same box with nothing that depends on a temperature: films fixed, no radiation, no loop's air or coolant."""
    found = copy.deepcopy(without_courses(tables))
    found.pop("radiation", None)
    for film in found.get("film", {}).values():
        film.pop("emissivity", None)
        if film["law"] == "natural":
            for key in ("orientation", "length"):
                film.pop(key, None)
            film |= {"law": "fixed", "h": "7 W/m2K"}
    for edge in found.get("edge", {}).values():
        edge.pop("emissivity", None)
    _draw_from_the_room(found)
    return found


def _draw_from_the_room(tables: Tables) -> None:
    for way in tables.get("airway", {}).values():
        if str(way["inlet"]).startswith("airway.") and not way.get("returns"):
            way["inlet"] = "room"


def of_metal(tables: Tables) -> Tables:
    """The same box with sheets and plates of aluminium, without patches."""
    found = copy.deepcopy(tables)
    for sheet in [*found["sheet"].values(), *found.get("plate", {}).values()]:
        for key in ("layers", "conductivity", "conductivity_y", "conductivity_through", "heat_density", "patch"):
            sheet.pop(key, None)
        sheet["material"] = "aluminium 1050"
    return found


def idle(tables: Tables) -> Tables:
    """The same box without any heat of its own."""
    return loaded(tables, 0.0)


def loaded(tables: Tables, factor: float) -> Tables:
    """The same box with all its heat times a factor."""

    def scaled(text: str) -> str:
        number, unit = text.split()
        return f"{factor * float(number)!r} {unit}"

    found = copy.deepcopy(tables)
    for kind, keys in {"part": ["watts"], "source": ["watts"], "edge": ["heat", "flux"], "fan": ["heat"],
                       "pump": ["heat"]}.items():  # fmt: skip
        for table in found.get(kind, {}).values():
            for key in keys:
                if isinstance(table.get(key), dict):
                    table[key] = {state: scaled(watts) for state, watts in table[key].items()}
                elif key in table:
                    table[key] = scaled(table[key])
    return found


def mirrored(tables: Tables, axis: int) -> Tables:
    """The same box seen in a mirror: x (axis 0) or y (axis 1) becomes its negative."""
    low, high = (("left", "right"), ("front", "back"))[axis]

    def point(text: str, size: str | None = None) -> str:
        values = pair(text, ",")
        values[axis] = -values[axis] - (pair(size, " x ")[axis] if size else 0.0)
        return f"{values[0]!r}, {values[1]!r} m"

    def turn(table: Tables) -> Tables:
        found: Tables = {}
        for key, value in table.items():
            if isinstance(value, dict):
                found[key] = turn(value)
            elif key == "corner":
                found[key] = point(value, table["size"])
            elif key in ("centre", "at"):
                found[key] = point(value) if "," in str(value) else value
            elif key == "path" and "," in str(value[0]):
                found[key] = [point(one) for one in value]
            elif key == "direction" and value.endswith("xy"[axis]):
                found[key] = {"+": "-", "-": "+"}[value[0]] + value[1]
            elif key == "side" and value in (low, high):
                found[key] = OPPOSITE[value]
            elif key == "stretch" and (table["side"] in ("front", "back")) == (axis == 0):
                start, end = pair(value, ",")
                found[key] = f"{-end!r}, {-start!r} m"
            else:
                found[key] = value
        return found

    return turn(tables)


def with_streams_reversed(tables: Tables) -> Tables:
    """The same box with all air and coolant flowing the other way. Airways must draw from the room."""
    found = copy.deepcopy(tables)
    _draw_from_the_room(found)
    for way in found.get("airway", {}).values():
        if "direction" in way:
            way["direction"] = {"+": "-", "-": "+"}[way["direction"][0]] + way["direction"][1]
    for radiator in found.get("radiator", {}).values():
        if "corner" in found["airway"][radiator["airway"]]:
            radiator["place"] = {"inlet": "outlet", "outlet": "inlet"}[radiator["place"]]
    for plate in found.get("plate", {}).values():
        plate["channel"]["path"].reverse()
    for loop in found.get("loop", {}).values():
        loop["path"] = _backwards(loop["path"])
    return found


def _backwards(path: list[Any]) -> list[Any]:
    """A loop's path from its end; within branches each way is turned too."""
    turned: list[Any] = []
    for item in reversed(path):
        if isinstance(item, list):
            turned.append([_backwards(way) if isinstance(way, list) else way for way in item])
        else:
            turned.append(item)
    return turned


def shuffled(tables: Tables, seed: int) -> Tables:
    """The same box with its tables in another order, where order has no meaning."""
    rng = random.Random(seed)

    def shuffle(table: Tables) -> Tables:
        names = list(table)
        rng.shuffle(names)
        return {name: table[name] for name in names}

    return shuffle({kind: shuffle(table) if kind in ORDERLESS else table for kind, table in tables.items()})


def finer(tables: Tables, halvings: int) -> Tables:
    """The same box with every cell halved, so many times over."""
    return tables | {"run": tables["run"] | {"halvings": halvings}}
