"""What a user would ask of a case that passed `check`: each study in turn, kept short."""

from __future__ import annotations

from random import Random

from thermsim.case import Case

Arguments = list[str]
HERE = ["-j", "1", "--no-figures"]  # in this process, where it is watched
FEW_STEPS = 12
FEW_POSITIONS = 400


def asked(random: Random, case: Case | None, chosen: bool) -> Arguments:
    """A command and its flags; `chosen`: whether an option is chosen by the flags that are there already."""
    options = ["base", *(case.options if case else [])]
    one = [] if chosen else ["-p", random.choice(options)]
    mishap = random.choice([*(case.spec.mishap if case else []), "room +8 K"])
    idle = idle_studies(case) if case else set()
    of = random.choice(["part.*.watts", "room.temperature", "run.cell", "fan.one.curve"])
    asks = (
        ["run", *one, "--no-figures", "--engine", "reduced"],
        ["run", *one, "--no-figures", "--engine", "full"],
        ["compare", "-p", "base", *one, "--draws", random.choice("04"), *HERE],
        ["compare", *one, "--draws", "4", *HERE],
        ["compare", "-p", random.choice(options), *one, "--draws", "4", *HERE],
        ["chill", *one, *HERE],
        ["place", *HERE],
        ["place", "--pitch", random.choice(("15 mm", "30 mm")), *HERE],
        ["mishap", *one, "-m", mishap, *HERE],
        ["mishap", *one, "-m", mishap, *HERE],
        ["sweep", *one, "--samples", random.choice(("2", "4")), "--check", "0", *HERE],
        ["sweep", *one, "--of", of, "--from", "90 %", "--to", random.choice(("110 %", "200 %")), "--steps", "2", *HERE],
        ["pipes", *HERE],
        ["pipes", *one, *HERE],
        ["loop", *HERE],
        ["bench", "--no-figures", "--no-model"],
        ["bench", "--protocol"],
    )
    fitting = [one for one in asks if one[0] not in idle] if random.random() < 0.9 else list(asks)
    return random.choice(fitting)


def idle_studies(case: Case) -> set[str]:
    """Studies that have nothing to do in a case, and would say so."""
    there = {
        "place": case.spec.place is not None,
        "pipes": "pipes" in case.options,
        "bench": False,  # without its logs
    }
    return {study for study, needed in there.items() if not needed}


def is_short(case: Case) -> bool:
    """Whether the studies of a case that is small itself are short too."""
    place, chill = case.spec.place, case.spec.chill
    if chill.steps > FEW_STEPS:
        return False
    if place is None:
        return True
    sheets = [*case.spec.sheet.values(), *case.spec.plate.values()]
    area = max((sheet.size[0] * sheet.size[1] for sheet in sheets), default=0.0)
    return area <= FEW_POSITIONS * place.pitch**2 and place.leaders <= FEW_STEPS
