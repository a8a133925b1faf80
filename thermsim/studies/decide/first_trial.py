"""The trial to run first, in words: what it achieves, what to read on the bench, and what refutes the model."""

from __future__ import annotations

from typing import Any

from thermsim.solve.noise import without
from thermsim.studies.decide.roles import BASE
from thermsim.studies.decide.trials import first_to_run
from thermsim.studies.words import percent, plain

Facts = dict[str, Any]
MOST = 0.5  # of the liquid's gain: more than that, and a cheap step alone brings most of it
MOST_OVER = 2  # parts over their limit that are named
NO_QUIETER = 0.05  # of the liquid's gain; what brings less makes nothing quieter
COVERAGE = 2.0  # uncertainties of a comparison: about 95 %


def reference(told: Facts) -> str | None:
    """The liquid option that cheap steps are set against in words: the best that passes, else the first."""
    against = list(dict.fromkeys(trial["against"] for trial in told["trials"]))
    ranked = [one["option"] for one in told["decision"]["ranking"] if one["option"] in against and one["passes"]]
    return next(iter([*ranked, *against]), None)


def first_trial(told: Facts) -> list[str]:
    """The cheap step to try first, and what it tells."""
    liquid = reference(told)
    trial = first_to_run(told["trials"], liquid) if liquid is not None else None
    if trial is None:
        return []
    frozen, noise = trial["frozen"], trial["live"]["noise"]
    left_out = _unheard(told, BASE, trial["option"], trial["against"])
    pieces = []
    loud = no_step_is_quieter(told, trial["against"])
    if noise is not None and noise["share"] is not None and not loud:
        alive = "with the governor live " if trial["governed"] else ""
        levels = f"{noise['now_dba']:.1f} to {noise['trial_dba']:.1f}, “{liquid}” {noise['liquid_dba']:.1f} dB(A)"
        pieces.append(f"{alive}{percent(noise['share'])} of the quiet that “{liquid}” brings ({levels}{left_out})")
    if frozen["worst_part"] is not None:
        still = f"with {speeds_frozen(told)} frozen " if trial["governed"] else ""
        whose = "its cooling" if pieces else f"the cooling that “{liquid}” brings"
        pieces.append(f"{still}{shares_in_words(told, trial)} of {whose}")
    if not pieces:
        return []
    expected = ", and ".join(pieces)
    lines = [f"Run “{trial['option']}” first: expect {expected}."]
    if loud:
        lines = [f"No cheap step makes it quieter. “{trial['option']}” still tests the model: expect {expected}."]
    lines.append(bounds(told, trial, speeds_frozen(told)))
    if (frozen["worst_share"] or 0.0) >= MOST and trial["option"] != taken(told):
        lines.append("A cheap step alone brings most of it: think twice before cutting metal.")
    return [" ".join(line for line in lines if line)]


def no_step_is_quieter(told: Facts, liquid: str) -> bool:
    """Whether liquid makes the box quieter and none of the cheap steps does."""
    noises = [trial["live"]["noise"] for trial in told["trials"] if trial["against"] == liquid]
    shares = [noise["share"] for noise in noises if noise is not None and noise["share"] is not None]
    return bool(shares) and max(shares) <= NO_QUIETER


def taken(told: Facts) -> str | None:
    """The design to take, if one passes."""
    return next((one["option"] for one in told["decision"]["ranking"] if one["passes"]), None)


def speeds_frozen(told: Facts) -> str:
    """What a governor of the base case drives, in words."""
    driven = {device.split(".")[0] for device in told["driven"]}
    return "the fan speed" if driven == {"fan"} else "the pump speed" if driven == {"pump"} else "fan and pump speeds"


def shares_in_words(told: Facts, trial: Facts) -> str:
    """Frozen shares: of the best part, of those over their limit, of what governors hold, and of the worst."""
    frozen, over = trial["frozen"], over_limit(told)
    shares = {name: part["share"] for name, part in frozen["parts"].items() if part["share"] is not None}
    named = [frozen["best_part"], *over[:MOST_OVER], *(one["part"] for one in told["sensors"])]
    shown = sorted(dict.fromkeys(part for part in named if part in shares), key=lambda part: -shares[part])
    words = {part: f"{percent(shares[part])} ({plain(part)}{', over its limit today' if part in over else ''})"
             for part in [*shown, frozen["worst_part"]]}  # fmt: skip
    worst = words.pop(frozen["worst_part"])
    return f"{', '.join(words.values())}, at worst {worst}," if words else f"at least {worst}"


def _unheard(told: Facts, *names: str) -> str:
    """What levels of these options leave out."""
    return without(list(dict.fromkeys(device for name in names for device in told["noise_without"].get(name, ()))))


def deciding_part(told: Facts, trial: Facts) -> str | None:
    """The part to read: in the base case nearest to its limit or furthest over, else the one that answers most."""
    parts, worst = trial["frozen"]["parts"], told["live"][BASE]["worst_part"]
    best: str | None = trial["frozen"]["best_part"]
    return worst if worst in parts else best


def over_limit(told: Facts) -> list[str]:
    """Parts of the base case over their limit, the worst first."""
    margins: dict[str, float] = told["live"][BASE]["margins_k"]
    return sorted((name for name, margin in margins.items() if margin < 0), key=lambda name: margins[name])


def bounds(told: Facts, trial: Facts, frozen: str) -> str:
    """Expected changes with what they may be off by, and what refutes them; `frozen`: what is, in words, if anything.

    A change that its uncertainty may hide is not told.
    """
    reads, least = [], []
    noise, part = trial["live"]["noise"], deciding_part(told, trial)
    if noise is not None:
        quieter, off = noise["now_dba"] - noise["trial_dba"], COVERAGE * told["uncertainty"]["noise_db"]
        if quieter > off:
            alive = " with the governor live" if trial["governed"] else ""
            reads.append(f"{quieter:.1f} ± {off:.1f} dB quieter{alive}")
            least.append(f"{quieter - off:.1f} dB")
    if part is not None:
        degc, off = trial["frozen"]["parts"][part], COVERAGE * told["uncertainty"]["temperature_k"]
        drop = degc["now_degc"] - degc["trial_degc"]
        if drop > off:
            still = f" with {frozen} frozen" if trial["governed"] else ""
            reads.append(f"{plain(part)} {drop:.1f} ± {off:.1f} K cooler{still}")
            least.append(f"{drop - off:.1f} K")
    if not reads:
        return ""
    return f"Read: {', and '.join(reads)}; less than {' or '.join(least)} refutes the model."
