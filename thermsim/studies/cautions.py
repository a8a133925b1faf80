"""The usual cautions, chosen by what a case contains. The tool reminds; it approves nothing."""

from thermsim.case.case import Case

ALWAYS = "This is a calculation, not an approval. Local codes and licensed people decide."


def cautions(case: Case) -> list[str]:
    """Cautions for the work a case stands for."""
    spec = case.spec
    found = [ALWAYS]
    if spec.loop:
        found += [
            "Pressure: test the loop dry, electronics out, at no more than its weakest element is rated for.",
            "A sealed loop without a gas cushion bursts when it warms: leave room for expansion.",
            "Aluminium and copper in one loop need an inhibited coolant.",
            "Leaks: mains and charged capacitors are work for licensed people; isolate before wetting anything.",
        ]
    if any("glycol" in loop.coolant for loop in spec.loop.values()):
        found.append("Glycol: keep from children and pets, mop spills, label, dispose of by local rules.")
    if spec.heat_pipe:
        found.append("Heat pipes burst when overheated: never solder, drill, cut or torch them.")
    if any("battery" in name for name in spec.part):
        found.append("Batteries: do not clamp or heat them; keep to the maker's charging limits.")
    cold = [way.inlet for way in spec.airway.values() if not isinstance(way.inlet, str)]
    if any(inlet < spec.room.temperature - 1 for inlet in cold):
        found.append("Chilled air or coolant: surfaces below the room's dew point get wet; interlock.")
    if any((part.limit or 0) >= 70 for part in spec.part.values()):
        found.append("Hot surfaces: smooth bare metal at 70 °C burns skin within about a second.")
    return found
