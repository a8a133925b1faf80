"""What a sweep says, in sentences to act on."""

from __future__ import annotations

from typing import Any

from thermsim import units
from thermsim.case.lines import split_address

Facts = dict[str, Any]
TOLD = 3  # inputs named in a sentence
LIKELY = 0.95
SLIGHT = 0.05  # of the widest effect, that is not worth a word


def answer_of_samples(facts: Facts) -> list[str]:
    """What decides the worst part, the noise, and whether all passes."""
    found = [*_worst(facts["tornado"]), *_noise(facts["tornado"])]
    samples = facts["samples"]
    if samples is not None:
        found += [_passing(samples), *_deciding(samples)]
    if any(one["assumed"] for one in facts["inputs"]):
        found.append(
            "How far inputs may be off is assumed (common practice, no source): state your own in [uncertain.NAME]."
        )
    return found[:5]


def _worst(tornado: Facts) -> list[str]:
    name = tornado["worst_part"]
    if name is None:
        return []
    margin = tornado["worst_margin_k"]
    where = f"{margin:.1f} K below" if margin >= 0 else f"{-margin:.1f} K over"
    return [f"{plain(name)} is nearest to its limit, {where}; most depends on {_widest(tornado, f'part.{name}', 'K')}."]


def _noise(tornado: Facts) -> list[str]:
    output = next((one for one in tornado["outputs"] if one["name"] == "noise"), None)
    if output is None or not any(row["effects"]["noise"] != [0.0, 0.0] for row in tornado["rows"]):
        return []
    return [f"The noise, {output['nominal']:.1f} dB(A), depends most on {_widest(tornado, 'noise', 'dB')}."]


def _widest(tornado: Facts, output: str, unit: str) -> str:
    rows = sorted(tornado["rows"], key=lambda row: -width(row, output))[:TOLD]
    rows = [row for row in rows if width(row, output) > SLIGHT * width(rows[0], output)]
    return ", then ".join(f"{plain(row['input'])} (±{width(row, output):.1f} {unit})" for row in rows)


def width(row: Facts, output: str) -> float:
    """How far an input moves an output either way, at most."""
    return float(max(abs(end) for end in row["effects"][output]))


def _passing(samples: Facts) -> str:
    if samples["all_pass_probability"] is None:
        return "No limit and no must-have that a settled state tells is stated: there is nothing to pass or fail."
    share, low, high = (100 * samples[key] for key in ("all_pass_probability", "all_pass_low", "all_pass_high"))
    text = (
        f"{judged_in_words(samples)} in {share:.0f} % of {samples['count']} samples ({low:.0f} to {high:.0f} %, "
        "95 % sure)"
    )
    judged = {name: one for name, one in samples["outputs"].items() if one["pass_probability"] is not None}
    weak = sorted(
        (name for name in judged if judged[name]["pass_probability"] < LIKELY),
        key=lambda name: judged[name]["pass_probability"],
    )
    if not weak:
        return f"{text}; each by itself in at least {100 * LIKELY:.0f} %."
    named = [f"{plain(name)} in {100 * (1 - judged[name]['pass_probability']):.0f} %" for name in weak[:TOLD]]
    return f"{text}; most often broken: {', '.join(named)}."


def judged_in_words(samples: Facts) -> str:
    """What all samples are judged by: "All 15 limits, quiet and dry (flat and light are not sampled) hold"."""
    limits = [name for name in samples["judged"] if name.endswith(" limit")]
    others = [name for name in samples["judged"] if name not in limits]
    kept = [f"all {len(limits)} limits"] if len(limits) > 1 else limits
    every = [*kept, *others]
    told = _listed(every) or "limits and must-haves"
    left = samples["not_sampled"]
    aside = f" ({_listed(left)} {'is' if len(left) == 1 else 'are'} not sampled)" if left else ""
    holds = "holds" if len(every) == len(samples["judged"]) == 1 else "hold"
    return f"{told[0].upper()}{told[1:]}{aside} {holds}".replace("_", " ")


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}" if names else ""


def _deciding(samples: Facts) -> list[str]:
    found = samples["drivers"]
    if not found:
        return []
    of = found[0]["of"]
    named = [f"{plain(one['input'])} ({one['rank_correlation']:+.2f})" for one in found if one["of"] == of][:TOLD]
    return [f"What decides {plain(of)}: {', '.join(named)} (rank correlation; minus: more of it leaves less margin)."]


def answer_of_line(facts: Facts) -> list[str]:
    """Where along the line the first limit is crossed, and what the ends are like."""
    one = facts["one"]
    ends = [shown(value, one["dimension"]) for value in (one["values"][0], one["values"][-1])]
    told = [state for state in one["states"] if "failed" not in state]
    found = []
    if one["first"]:
        found.append(f"From {ends[0]} to {ends[1]} of {one['of']} the first to change: {crossed(one, one['first'])}.")
    else:
        found.append(f"From {ends[0]} to {ends[1]} of {one['of']} no limit or must-have is crossed.")
    if len(one["crossings"]) > 1:
        more = [f"{plain(c['name'])} at {shown(c['at'], one['dimension'])}" for c in one["crossings"][1 : 1 + TOLD]]
        found.append(f"Next: {', '.join(more)}.")
    if told and told[0]["worst_part"] is not None:
        first, last = told[0], told[-1]
        found.append(
            f"The worst margin goes from {first['worst_margin_k']:.1f} K ({plain(first['worst_part'])}) to "
            f"{last['worst_margin_k']:.1f} K ({plain(last['worst_part'])})."
        )
    levels = [state["with_room_dba"] for state in (told[0], told[-1])] if told else [None]
    if None not in levels and levels[0] != levels[1]:
        found.append(f"The noise goes from {levels[0]:.1f} to {levels[1]:.1f} dB(A), room included.")
    if len(told) < len(one["states"]):
        found.append(f"{len(one['states']) - len(told)} of {len(one['states'])} steps have no steady state.")
    return found


def crossed(one: Facts, crossing: Facts) -> str:
    """A crossing in words: "fpga limit is broken above 14.2 W"."""
    rises = one["values"][-1] > one["values"][0]
    verb, side = "broken" if crossing["is_broken_beyond"] else "kept", "above" if rises else "below"
    return f"{plain(crossing['name'])} is {verb} {side} {shown(crossing['at'], one['dimension'])}"


def shown(value: float, dimension: str | None) -> str:
    """A value (SI, or a factor) as a person writes it."""
    if dimension == "factor":
        return f"{100 * value:.0f} %"
    return f"{value:.3g}" if dimension is None else units.format_quantity(value, dimension)


def plain(name: str) -> str:
    """A name or address in words: "part.power_left.watts" becomes "power left watts"."""
    path = split_address(name) or (name,)
    words = path[1:] if path[0] == "part" and len(path) > 1 else path
    return " ".join(words).replace("_", " ")
