"""A box of sixty cells and a governed fan, quick enough to run in a test."""

from thermsim.case import Case

SCALED = {"law": "scaled", "h": "40 W/m2K", "at_flow": "10 m3/h", "exponent": 0.6, "to": "airway.main"}


def small_box(film: dict = SCALED) -> Case:
    """A board of laminate with a metal insert: its film has two half-thicknesses, its stream a governed fan."""
    return Case.from_dict({
        "case": {"title": "check"}, "room": {"temperature": "20 degC"},
        "run": {"cell": "10 mm", "duration": "10 min", "frames": 11},
        "sheet": {"board": {
            "corner": "0, 0 mm", "size": "100 x 60 mm", "thickness": "1.6 mm", "conductivity": "20 W/mK",
            "conductivity_through": "0.3 W/mK", "heat_density": "2e6 J/m3K",
            "patch": {"insert": {
                "corner": "20, 20 mm", "size": "30 x 20 mm", "conductivity": "200 W/mK",
                "conductivity_through": "200 W/mK",
            }},
        }},
        "part": {"chip": {
            "on": "sheet.board", "centre": "50, 30 mm", "size": "20 x 20 mm", "watts": "3 W", "to_board": "1 K/W",
            "heat_capacity": "5 J/K",
        }},
        "film": {"top": {"on": "sheet.board"} | film},
        "airway": {"main": {
            "corner": "0, 0 mm", "size": "100 x 60 mm", "height": "20 mm", "fans": ["fan.f"],
            "resistance": "0.1 Pa/(m3/h)2", "segments": 4,
        }},
        "fan": {"f": {"curve": ["0 m3/h, 30 Pa", "20 m3/h, 0 Pa"]}},
        "governor": {"g": {
            "sensor": "part.chip", "drives": ["fan.f"], "law": "hold", "set_point": "40 degC", "gain": "5 %/K",
            "reset": "60 s", "min_speed": "20 %",
        }},
        "option": {"more heat": {"set": {"part.chip.watts": "4 W"}}},
    })  # fmt: skip
