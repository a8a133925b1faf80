"""What a pressure test reminds of before anything else, and what makes its result doubtful."""

from __future__ import annotations

from typing import Any

from thermsim.studies.cautions import ALWAYS

Facts = dict[str, Any]
CEILING_PA = 50e3  # over the atmosphere, for small loops; common practice, no source
MUCH_COOLING = 10.0  # times what is left: most of the answer then hangs on the thermometer
WET = (
    "A dry test is half of it: fill, bleed, and run the loop 24 h with the electronics unpowered and dry tissue under "
    "every joint (common practice, no source)."
)


def cautions_of(facts: Facts) -> list[str]:
    """Before the test, not after it."""
    energy = "" if facts["stored_energy_j"] < 0.1 else f"; here {facts['stored_energy_j']:.2g} J"
    found = [ALWAYS]
    if not facts["inwards"]:
        found += [
            f"Compressed air stores energy and throws what bursts{energy}. Electronics out, a shield and goggles "
            "between loop and face, a relief valve on the line, fill slowly, let down before touching a joint.",
            "Stay below the rating of the weakest element; 0.5 bar over the atmosphere is the customary ceiling for "
            f"small loops (common practice, no source); here {facts['over_atmosphere_pa'] / 1e5:.2f} bar.",
        ]
    return [*found, WET]


def warnings_of(facts: Facts) -> list[str]:
    """What a reader should know before believing the result."""
    found = []
    over = facts["over_atmosphere_pa"]
    if over > CEILING_PA * 1.001:
        found.append(f"held at {over / 1e5:.2f} bar over the atmosphere, above the customary ceiling of 0.5 bar")
    for test in facts["tests"]:
        name = test["name"]
        if not test["settled"]:
            found.append(
                f"{name}: the pressure never fell evenly, not even in its last {test['span_s'] / 60:.0f} min; "
                "soak longer, keep draughts and hands away"
            )
        elif test["soaked_s"]:
            found.append(f"{name}: the first {test['soaked_s'] / 60:.0f} min were left out as soak")
        moved = abs(test["drop_pa"] - test["corrected_pa"])
        if moved > MUCH_COOLING * max(abs(test["corrected_pa"]), test["u_corrected_pa"]):
            found.append(f"{name}: temperature moved the reading by {moved:.0f} Pa; hold in a steadier room")
        found += [f"{name}: {text}" for text in test["doubts"]]
        if any("not measured again" in row["spread"] for row in test["budget"]):
            found.append(
                f"{name}: the atmosphere was measured once; weather may move a gauge's reading by 100 Pa an hour. "
                "Read the barometer at the end too (atmosphere_after)"
            )
    return found
