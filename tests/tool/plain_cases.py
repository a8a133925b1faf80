"""Tables of small cases for tests of this folder: a board, a part, an airway, a plate with its loop."""

from thermsim.case import Case

FAN = {"curve": ["0 m3/h, 30 Pa", "20 m3/h, 0 Pa"]}
STREAM = {
    "corner": "0, 0 mm", "size": "100 x 60 mm", "height": "20 mm", "fans": ["fan.f"],
    "resistance": "0.1 Pa/(m3/h)2",
}  # fmt: skip
PUMP = {"curve": ["0 L/min, 30 kPa", "2 L/min, 0 kPa"]}
RADIATOR = {
    "airway": "airway.a", "conductance": "5 W/K", "at_flow": "10 m3/h", "exponent": 0.5, "volume": "50 mL",
    "drop": "2 kPa", "drop_at": "1 L/min",
}  # fmt: skip


def sheet(**more) -> dict:
    """A board of 100 x 60 mm."""
    return {
        "corner": "0, 0 mm", "size": "100 x 60 mm", "thickness": "1.6 mm", "conductivity": "20 W/mK",
        "heat_density": "2e6 J/m3K",
    } | more  # fmt: skip


def part(**more) -> dict:
    """A part of 3 W in the middle of sheet.b."""
    return {
        "on": "sheet.b", "centre": "50, 30 mm", "size": "20 x 20 mm", "watts": "3 W", "to_board": "1 K/W",
        "heat_capacity": "5 J/K", "limit": "90 degC",
    } | more  # fmt: skip


def film(**more) -> dict:
    """A fixed film on sheet.b."""
    return {"on": "sheet.b", "law": "fixed", "h": "12 W/m2K"} | more


def plate(**more) -> dict:
    """A cold plate of 100 x 60 mm with a channel of three legs, 4 x 4 mm."""
    channel = {"path": ["5, 10 mm", "95, 10 mm", "95, 50 mm", "5, 50 mm"], "width": "4 mm", "depth": "4 mm"}
    return sheet(thickness="8 mm", conductivity="160 W/mK") | {"channel": channel} | more


def loop_tables(**loop) -> dict:
    """A part on a plate, its loop through a hose and a radiator in a pinned stream of air."""
    return {
        "plate": {"c": plate()}, "part": {"p": part(on="plate.c")}, "pump": {"p": PUMP},
        "hose": {"h": {"length": "1 m", "bore": "6 mm"}}, "radiator": {"r": RADIATOR},
        "airway": {"a": {"flow": "10 m3/h"}},
        "loop": {"m": {"pump": "pump.p", "coolant": "water", "path": ["hose.h", "plate.c", "radiator.r"]} | loop},
    }  # fmt: skip


def case_of(**tables) -> Case:
    """A case in a room of 22 °C, ten minutes long."""
    about = {"case": {"title": "check"}, "room": {"temperature": "22 degC"}}
    return Case.from_dict(about | {"run": {"duration": "10 min", "cell": "10 mm", "frames": 3}} | tables)
