"""Two lumped parts in a row to the room: what every study of inputs finds can be written down.

T_a = T_room + (W_a + W_b) / hA + W_a R, T_b without its last term (Incropera & DeWitt, 6th ed., section 3.1:
thermal resistances in series).
"""

from thermsim.case import Case

ROOM, A_W, B_W, R, H, AREA = 20.0, 5.0, 2.0, 2.0, 50.0, 0.01
A_DEGC, B_DEGC = ROOM + (A_W + B_W) / (H * AREA) + A_W * R, ROOM + (A_W + B_W) / (H * AREA)


def two_parts(**more) -> Case:
    """Part a, 5 W, joined by 2 K/W to part b, 2 W, whose face of 0.01 m² has a film of 50 W/m²K."""
    return Case.from_dict({
        "case": {"title": "two parts"}, "room": {"temperature": f"{ROOM} degC"},
        "part": {
            "a": {"watts": f"{A_W} W", "heat_capacity": "10 J/K", "limit": "45 degC"},
            "b": {"watts": f"{B_W} W", "heat_capacity": "10 J/K", "size": "100 x 100 mm"},
        },
        "joint": {"ab": {"between": ["part.a", "part.b"], "resistance": f"{R} K/W"}},
        "film": {"f": {"on": "part.b", "law": "fixed", "h": f"{H} W/m2K"}},
    } | more)  # fmt: skip
