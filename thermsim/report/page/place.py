"""The placement map's data: positions, what is on the board, hoses of the best, pairs, and the colours of margin."""

from __future__ import annotations

from typing import Any

Facts = dict[str, Any]
COLOURS = 33
SHADED = 0.4  # of the positions, the best
BOARD = ("sheet", "box", "parts", "keep_outs", "screws", "plate_size_mm", "pitch_mm", "positions")


def place_data(facts: Facts) -> Facts:
    """What the map is drawn from; `best`: number of the position that wins, or of the first."""
    leaders = facts["leaders"]
    margins = [one["worst_margin_k"] for one in facts["positions"] if one["allowed"]]
    layout = next((one for one in facts["layouts"] if one["name"] == facts["layout"] and one["allowed"]), None)
    return {key: facts[key] for key in BOARD} | {
        "hoses": {one["position"]: one["hose_zones_mm"] for one in leaders},
        "best": leaders[0]["position"] if leaders else 0,
        "channel": layout["path_mm"] if layout else [],
        "pairs": {name: told["best"] for name, told in facts["pairs"].items() if told["best"]},
        "scale": scale_of(margins),
        "colours": margin_colours(),
    }


def scale_of(margins: list[float]) -> list[float]:
    """Ends of the colour scale: of the best positions only, so that one sees which are best; the rest are darkest."""
    if not margins:
        return [0.0, 1.0]
    order = sorted(margins)
    return [order[int((1.0 - SHADED) * (len(order) - 1))], order[-1]]


def margin_colours() -> list[str]:
    """Colours of margin, little to much: dark to bright in even steps, for colour-blind readers too."""
    from matplotlib import colormaps
    from matplotlib.colors import to_hex

    scale = colormaps["cividis"]
    return [to_hex(scale(k / (COLOURS - 1))) for k in range(COLOURS)]
