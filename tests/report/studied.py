"""Facts of studies of the small case, as the studies store them, made up to be easy to check."""

from __future__ import annotations

from typing import Any

PARTS = ("chip_one", "adc1", "adc2", "adc3")
Facts = dict[str, Any]


def place_facts() -> Facts:
    """A search over 4 by 3 places in two rotations; the middle of the first column may not be used."""
    positions = []
    for turned in (0, 90):
        for column in range(4):
            for row in range(3):
                allowed = (column, row) != (0, 1)
                margin = 3.125 + column + 0.1 * row - 0.01 * turned
                positions.append({
                    "x_mm": 20.0 + 10.0 * column, "y_mm": 10.0 + 10.0 * row, "rotation_deg": turned, "allowed": allowed,
                    "why": [] if allowed else ["keep-out “plug” is under it"],
                    "worst_margin_k": margin if allowed else None, "worst_part": "adc2" if allowed else None,
                    "covered": ["chip_one"] if allowed else [],
                    "parts_degc": {part: 30.0 + margin + k for k, part in enumerate(PARTS)} if allowed else {},
                    "flow_l_per_min": 0.5 + 0.01 * row if allowed else None,
                    "drop_kpa": 21.0 + column if allowed else None, "plate_mean_degc": 27.5 if allowed else None,
                })  # fmt: skip
    best = max((one for one in positions if one["allowed"]), key=lambda one: one["worst_margin_k"])
    return {
        "study": "place", "title": "made up", "invented": True, "option": "liquid", "plate": "plate.main",
        "sheet": {"corner_mm": [0.0, 0.0], "size_mm": [160.0, 90.0]},
        "parts": [{"name": "chip_one", "corner_mm": [25.0, 35.0], "size_mm": [30.0, 20.0], "limit_degc": 85.0,
                   "height_mm": 2.0}],
        "keep_outs": [{"name": "plug", "corner_mm": [0.0, 20.0], "size_mm": [15.0, 10.0], "height_mm": 12.0}],
        "screws": [{"name": "post", "at_mm": [150.0, 80.0], "hole_mm": 3.0, "ring_mm": 8.0}],
        "plate_size_mm": [60.0, 40.0], "pitch_mm": 10.0, "positions": positions,
        "leaders": [best | {"exact_worst_margin_k": best["worst_margin_k"] + 0.02, "screening_error_k": 0.02, "rank": 1}],
        "layouts": [{"name": "serpentine", "drop_kpa": 9.5, "flow_l_per_min": 0.6, "worst_margin_k": 6.3,
                     "regime": "laminar", "path_mm": []}],
        "answer": ["Put the plate at the far corner."], "warnings": ["a made-up warning"], "cautions": [],
    }  # fmt: skip


def mishap_facts() -> Facts:
    """Two mishaps: one that passes a limit after 150 s, one that never does."""
    history = {"time_s": [0.0, 60.0, 120.0, 180.0], "parts_degc": {"chip_one": [30.0, 31.0, 32.0, 33.0]}}
    common = {"at_s": 600.0, "settled_before_degc": {"chip_one": 30.0}, "history": history}
    return {
        "study": "mishap", "title": "made up", "invented": True, "option": None,
        "cases": [
            common | {
                "option": "base", "mishap": "room_hot", "text": "room +8 K", "what": "room", "first_over": None,
                "ends": {"worst_part": "adc2", "worst_margin_k": 4.0, "settled": True, "parts_degc": {}},
                "adiabatic": None, "alarms": [], "safe_power": {"factor": 1.4, "watts": 11.2, "part": "adc2"},
            },
            common | {
                "option": "liquid", "mishap": "pump_stops", "text": "pump small stops", "what": "pump stops",
                "first_over": {"part": "chip_one", "time_s": 150.0, "limit_degc": 32.5},
                "ends": {"worst_part": "chip_one", "worst_margin_k": -9.0, "settled": True, "parts_degc": {}},
                "adiabatic": {"part": "chip_one", "time_s": 4.0},
                "alarms": [{"of": "plate.main", "threshold_degc": 31.0, "rings_s": 60.0, "lead_s": 90.0}],
                "safe_power": {"factor": 0.61, "watts": 4.9, "part": "chip_one"},
            },
        ],
        "answer": ["The pump is what matters."], "warnings": [], "cautions": ["a made-up caution"],
    }  # fmt: skip
