"""The placement map's data: positions, what is on the board, and the colours of margin."""

from __future__ import annotations

from typing import Any

Facts = dict[str, Any]
COLOURS = 33
KEPT = (
    "x_mm", "y_mm", "rotation_deg", "allowed", "why", "worst_margin_k", "worst_part", "covered", "parts_degc",
    "flow_l_per_min", "drop_kpa", "plate_mean_degc",
)  # fmt: skip


def place_data(facts: Facts) -> Facts:
    """What the map is drawn from; `best`: number of the first position that wins."""
    positions = [{key: _short(one[key]) for key in KEPT} for one in facts["positions"]]
    margins = [one["worst_margin_k"] for one in positions if one["allowed"]]
    return {
        "sheet": facts["sheet"],
        "parts": facts["parts"],
        "keep_outs": facts["keep_outs"],
        "screws": facts["screws"],
        "plate_size_mm": facts["plate_size_mm"],
        "pitch_mm": facts["pitch_mm"],
        "positions": positions,
        "best": number_of(facts, facts["leaders"][0]) if facts["leaders"] else 0,
        "scale": [min(margins, default=0.0), max(margins, default=1.0)],
        "colours": margin_colours(),
    }


def number_of(facts: Facts, leader: Facts) -> int:
    """Number of the position that a leader is."""
    spot = tuple(leader[key] for key in ("x_mm", "y_mm", "rotation_deg"))
    return next(k for k, one in enumerate(facts["positions"])
                if tuple(one[key] for key in ("x_mm", "y_mm", "rotation_deg")) == spot)  # fmt: skip


def margin_colours() -> list[str]:
    """Colours of margin, little to much: dark to bright in even steps, for colour-blind readers too."""
    from matplotlib import colormaps
    from matplotlib.colors import to_hex

    scale = colormaps["cividis"]
    return [to_hex(scale(k / (COLOURS - 1))) for k in range(COLOURS)]


def _short(value: Any) -> Any:
    """Numbers to a thousandth: the page stays small."""
    if isinstance(value, float):
        return round(value, 3)
    return {key: _short(one) for key, one in value.items()} if isinstance(value, dict) else value
