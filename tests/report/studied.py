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
                    "why": [] if allowed else ["keep-out plug"],
                    "worst_margin_k": margin if allowed else None, "worst_part": "adc2" if allowed else None,
                    "covered": ["chip_one"] if allowed else [],
                    "parts_degc": {part: 30.0 + margin + k for k, part in enumerate(PARTS)} if allowed else {},
                    "flow_l_per_min": 0.5 + 0.01 * row if allowed else None,
                    "drop_kpa": 21.0 + column if allowed else None, "plate_mean_degc": 27.5 if allowed else None,
                })  # fmt: skip
    best = max((k for k, one in enumerate(positions) if one["allowed"]), key=lambda k: positions[k]["worst_margin_k"])
    exact = {"exact_worst_margin_k": positions[best]["worst_margin_k"] + 0.02, "exact_worst_part": "adc2",
             "flow_l_per_min": 0.52, "loop_drop_kpa": 33.0, "screening_error_k": -0.02,
             "parts_degc": positions[best]["parts_degc"]}  # fmt: skip
    spot = {key: positions[best][key] for key in ("x_mm", "y_mm", "rotation_deg", "covered")}
    second = {"x_mm": 90.0, "y_mm": 40.0, "rotation_deg": 0, "covered": ["adc2"], "outline_mm": [60.0, 40.0]}
    pair = exact | {"first": spot | {"outline_mm": [60.0, 40.0]}, "second": second, "exact_worst_margin_k": 9.75}
    channel = {"name": "serpentine", "rotation_deg": 0, "allowed": True, "why": [], "drop_kpa": 9.5,
               "flow_l_per_min": 0.52, "worst_margin_k": 6.3, "regime": "laminar"}  # fmt: skip
    return {
        "study": "place", "title": "made up", "invented": True, "option": "liquid", "plate": "plate.main",
        "layout": "serpentine",
        "sheet": {"name": "sheet.board", "corner_mm": [0.0, 0.0], "size_mm": [160.0, 90.0]},
        "box": {"corner_mm": [-10.0, -10.0], "size_mm": [180.0, 110.0]},
        "parts": [{"name": "chip_one", "corner_mm": [25.0, 35.0], "size_mm": [30.0, 20.0], "limit_degc": 85.0,
                   "height_mm": 2.0}],
        "keep_outs": [{"name": "plug", "corner_mm": [0.0, 20.0], "size_mm": [15.0, 10.0], "height_mm": 12.0}],
        "screws": [{"name": "post", "at_mm": [150.0, 80.0], "hole_mm": 3.0, "ring_mm": 8.0}],
        "plate_size_mm": [60.0, 40.0], "pitch_mm": 10.0, "positions": positions,
        "leaders": [spot | exact | {"rank": 1, "position": best,
                    "hose_zones_mm": [{"corner_mm": [110.0, 40.0], "size_mm": [30.0, 8.0]}]}],
        "pairs": {"series": {"count": 66, "best": pair, "leaders": [pair]}},
        "layouts": [channel | {"path_mm": [[55.0, 35.0], [105.0, 35.0]]}],
        "directions": [channel | {"along": "x", "inlet": "at its end"},
                       {"along": "y", "rotation_deg": 90, "inlet": "at its end", "allowed": False,
                        "why": ["outlet hose: no room"], "worst_margin_k": None}],
        "counts": {"positions": 24, "allowed": 22, "reasons": {"keep-out plug": 2}},
        "now": {"corner_mm": [20.0, 30.0], "size_mm": [60.0, 40.0], "worst_margin_k": 5.0, "worst_part": "adc2",
                "flow_l_per_min": 0.5, "loop_drop_kpa": 34.0},
        "without": {"worst_margin_k": -20.0, "worst_part": "chip_one"},
        "answer": ["Put the plate at the far corner."], "warnings": ["a made-up warning"], "cautions": [],
    }  # fmt: skip


def mishap_facts() -> Facts:
    """Two mishaps: one that passes a limit after 150 s, one that never does."""
    history = {"time_s": [0.0, 60.0, 120.0, 180.0], "parts_degc": {"chip_one": [30.0, 31.0, 32.0, 33.0]}}
    common = {"over_before": [], "history": history, "limits_degc": {"chip_one": 32.5}}
    return {
        "study": "mishap", "title": "made up", "invented": True, "option": None,
        "cases": [
            common | {
                "option": None, "mishap": "room +8 K", "what": "room hot",
                "text": "room 8 K warmer, while its airway resists four times as much",
                "first_over": None, "adiabatic": None, "best_alarm": None,
                "ends": {"worst_part": "adc2", "worst_margin_k": 4.0, "settled": True},
                "safe_power": {"factor": 1.4, "at_least": True, "watts": 11.2, "part": "adc2"},
            },
            common | {
                "option": "liquid", "mishap": "pump_stops", "text": "pump small stops", "what": "pump stops",
                "first_over": {"part": "chip_one", "time_s": 150.0, "limit_degc": 32.5},
                "adiabatic": {"part": "chip_one", "time_s": 4.0},
                "ends": {"worst_part": "chip_one", "worst_margin_k": -9.0, "settled": True},
                "best_alarm": {"of": "plate main", "rise_k": 3.0, "rings_s": 60.0, "lead_s": 90.0},
                "safe_power": {"factor": 0.61, "at_least": False, "watts": 4.9, "part": "chip_one"},
            },
        ],
        "assumptions": ["made up"],
        "answer": ["The pump is what matters."], "warnings": [], "cautions": ["a made-up caution"],
    }  # fmt: skip
