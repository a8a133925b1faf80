"""What the coolant touches: metals that must not meet, and what else eats them.

Rules of the trade: common practice, no source, unless one is named.
"""

from __future__ import annotations

from typing import Any

from thermsim.case.schema import Spec
from thermsim.model.hydraulics import elements, read_path

Facts = dict[str, Any]
COPPERS = ("copper", "brass", "bronze")
# the oxide film on aluminium is stable in between: Pourbaix, Atlas of Electrochemical Equilibria (1974), from memory
ALUMINIUM_PH = (4.0, 8.5)
LIFTS_FILMS = 1.5  # m/s, above which the film on copper is in danger; 2 at most
KNOWN = ("aluminium", "copper", "brass", "bronze", "nickel", "stainless steel", "steel", "zinc")


def wetted(spec: Spec, loop: str) -> dict[str, list[str]]:
    """What each element of a loop is made of where the coolant touches it, by address; a plate's material too."""
    table = spec.loop[loop]
    found: dict[str, list[str]] = {f"loop.{loop}": list(table.wetted)}
    for address in (table.pump, *elements(read_path(table.path))):
        kind, _, name = address.partition(".")
        element = getattr(spec, kind)[name]
        stated = list(element.wetted)
        if kind == "plate" and not stated and element.material:
            stated = [next((metal for metal in KNOWN if metal in element.material), "")]
        found[address] = [metal for metal in stated if metal]
    return {address: metals for address, metals in found.items() if metals}


def material_facts(spec: Spec, loop: str, rows: list[Facts]) -> Facts:
    """Metals by address, and findings about their mix, the pH and the speed."""
    table, found = spec.loop[loop], wetted(spec, loop)
    metals = {metal for several in found.values() for metal in several}
    return {
        "wetted": found,
        "metals": sorted(metals),
        "inhibited": table.inhibited,
        "ph": table.ph,
        "findings": [*_mix(metals, table.inhibited), *_acidity(metals, table.ph), *_speed(metals, rows)],
    }


def _mix(metals: set[str], inhibited: bool | None) -> list[str]:
    noble = sorted(metals & set(COPPERS))
    base = sorted(metals & {"aluminium", "zinc", "steel"})
    if not noble or not base:
        return []
    pair = f"{' and '.join(base)} with {' and '.join(noble)} in one loop"
    if inhibited:
        return [f"{pair}: lives by its inhibitor alone; test it every year and renew it by its maker's rule"]
    state = "is not stated" if inhibited is None else "is none"
    never = "never without one" if "aluminium" in base else "not without one"
    return [f"{pair}, and its inhibitor {state}: {never}, for copper in solution pits the other metal"]


def _acidity(metals: set[str], ph: float | None) -> list[str]:
    low, high = ALUMINIUM_PH
    if "aluminium" not in metals or ph is None or low <= ph <= high:
        return []
    return [f"pH {ph:g}: the film that protects aluminium is stable from pH {low:g} to {high:g}"]


def _speed(metals: set[str], rows: list[Facts]) -> list[str]:
    """Elements in which the coolant runs fast enough to lift the film on copper."""
    if metals and not metals & set(COPPERS):
        return []
    fast = [row for row in rows if (row["velocity_m_per_s"] or 0.0) > LIFTS_FILMS]
    if not fast:
        return []
    told = ", ".join(f"{row['velocity_m_per_s']:.1f} m/s in {row['element']}" for row in fast)
    return [f"{told}: above {LIFTS_FILMS:g} to 2 m/s copper and brass behind it erode"]
