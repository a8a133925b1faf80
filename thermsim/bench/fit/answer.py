"""A fit in words: what was found, whether it holds for what it did not see, what the logs cannot tell."""

from __future__ import annotations

from typing import Any

from thermsim import units
from thermsim.studies.sweep.answer import plain

Facts = dict[str, Any]
MANY = 3  # unknowns told in the answer
OFF = 3.0  # standard uncertainties, from which a channel is named
AMISS = 2.0  # times what probes and a fair model explain, from which the model is doubted; common practice, no source
LEFT = 4.0  # weighted squares per independent reading, from which the model's form is doubted


def shown(one: Facts, value: float) -> str:
    """A value of an unknown as a person writes it."""
    if one["dimension"] == "factor":
        return f"{100 * value:.3g} %"
    if one["dimension"] in (None, "shift"):
        return f"{value:.3g}"
    return units.format_quantity(float(f"{value:.3g}"), one["dimension"])


def with_error(one: Facts) -> str:
    """Value and standard error: "0.40 K/W ± 2 %"; where it is no factor the error has the value's unit."""
    if one["relative_error"] is None:
        size = one["standard_error"]
        return f"{shown(one, one['value'])} ± {size:.2g}{' K' if one['dimension'] == 'temperature' else ''}"
    relative = 100 * one["relative_error"]
    return (
        f"{shown(one, one['value'])} ± {relative:.2g} %" if relative < 100 else f"{shown(one, one['value'])}, unknown"
    )


def answer_of(facts: Facts) -> list[str]:
    """At most five sentences."""
    return [text for text in (_found(facts), _better(facts), _holds(facts), _cannot_tell(facts), _next(facts)) if text]


def _found(facts: Facts) -> str:
    order = sorted(facts["unknowns"], key=lambda one: -abs(one["from_belief"] or 0.0))
    told = [one for one in order if not one["said_nothing"]][:MANY]
    if not told:
        return "The logs say nothing of the unknowns that the case did not say before: keep its own values."
    each = [f"{plain(one['name'])} is {with_error(one)} (the case said {shown(one, one['before'])})" for one in told]
    more = len(facts["unknowns"]) - len(told)
    tail = f"; {more} more in the table" if more else ""
    return f"Matched to {_runs(facts)}: {', '.join(each)}{tail}. ± is one standard error."


def _runs(facts: Facts) -> str:
    count = sum(not run["held"] for run in facts["runs"])
    return f"{count} run{'' if count == 1 else 's'}"


def _better(facts: Facts) -> str:
    better = (
        f"The model now reads {facts['rms_after_k']:.2f} K (rms) from the probes it was matched to, "
        f"before {facts['rms_before_k']:.2f} K"
    )
    if not _is_amiss(facts):
        return f"{better}."
    return (
        f"DISTRUST IT: {better[0].lower()}{better[1:]}, where noise and calibration explain "
        f"{facts['rms_explained_k']:.2f} K: something that is not matched is wrong or missing, such as watts, a film, "
        "a way for heat to leave, or a probe that came off."
    )


def _is_amiss(facts: Facts) -> bool:
    """Whether the probes are off by more than they and a fair model explain."""
    return bool(facts["rms_after_k"] > AMISS * facts["rms_explained_k"])


def _holds(facts: Facts) -> str:
    held = facts["held_out"]
    told = [_held(held["of_run"], "The run"), _held(held["of_probe"], "The probe")]
    if not any(told):
        return "Nothing was held out, so nothing shows whether it holds: log one more run, or one more probe."
    if held["rms_after"] > held["rms_before"]:
        return (
            f"DISTRUST IT: what it did not see got worse, from {held['rms_before']:.2f} to {held['rms_after']:.2f} K "
            "rms; only the probes it was matched to improved."
        )
    return " ".join(filter(None, told))


def _held(one: Facts | None, what: str) -> str:
    if one is None:
        return ""
    worst = one["worst"]
    end = f"{abs(worst['error']):.2f} K {'high' if worst['error'] > 0 else 'low'}"
    which = "" if one["count"] == 1 else f" at worst ({plain(worst['channel'])}, {worst['run']})"
    wide, told = f"±{1.96 * worst['u']:.2f} K (95 %) stated", f"{one['outside']} of {one['count']} series"
    ending = f"is told {end}{which}, {'inside' if worst['inside'] else 'outside'} the {wide}"
    if one["inside"]:
        chance = "" if worst["inside"] else f" ({told}), though no farther than chance allows"
        return f"{what} it did not see, {plain(one['name'])}, {ending}{chance}."
    return f"DISTRUST IT: {what.lower()} it did not see, {plain(one['name'])}, {ending}, {told}."


def _cannot_tell(facts: Facts) -> str:
    told = []
    for group in facts["degenerate"][:2]:
        names = [plain(name) for name in group["names"]]
        told.append(f"the logs do not tell {_listed(names)} apart: {_same(facts, group)} leaves every reading as it is")
    for one in facts["unknowns"]:
        if one["bound_hit"]:
            told.append(f"{plain(one['name'])} rests on its {one['bound_hit']} bound, {shown(one, one['value'])}")
    in_groups = {name for group in facts["degenerate"] for name in group["names"]}
    blank = [plain(one["name"]) for one in facts["unknowns"] if one["said_nothing"] and one["name"] not in in_groups]
    if blank:
        told.append(f"they say nothing of {_listed(blank)}")
    return f"What it cannot tell: {'; '.join(told)}." if told else ""


def _same(facts: Facts, group: Facts) -> str:
    about = {one["name"]: one for one in facts["unknowns"]}
    each = []
    for name, amount in group["moves"].items():
        if about[name]["factor"] is None:
            each.append(f"{plain(name)} {amount:+.2g}")
        else:
            each.append(f"{plain(name)} {100 * (amount - 1):+.2g} %")
    return " with ".join(each)


def _is_distrusted(facts: Facts) -> bool:
    held = facts["held_out"]
    return _is_amiss(facts) or held["inside"] is False or held["rms_after"] > held["rms_before"]


def _next(facts: Facts) -> str:
    if _is_distrusted(facts):
        worst = next((one for one in facts["channels"] if abs(one["z"]) > OFF), None)
        first = f"{plain(worst['channel'])} and " if worst else ""
        return (
            f"Next: look at {first}the channels that are off by most, mend the bench or the case, and fit again; these "
            "values are no better than the model they stand in, so write none of them into the case."
        )
    if facts["degenerate"]:
        return (
            "Next: one more probe between them, or a handbook value for one of them in [uncertain] with a narrow "
            "spread; then fit again."
        )
    surprises = [one for one in facts["unknowns"] if one["surprising"]]
    if surprises:
        names = _listed([plain(one["name"]) for one in surprises[:2]])
        verb = "is" if len(surprises) == 1 else "are"
        return (
            f"{names} {verb} far from what the case believed: look at the bench (bad contact, wrong watts, a probe "
            'that came off) before you trust the number; then "--write" puts the matched options into the case file, '
            "and `thermsim compare` tells what they change."
        )
    return '"--write" puts the matched options into the case file; then `thermsim compare` tells what they change.'


def _listed(names: list[str]) -> str:
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def warnings_of(facts: Facts) -> list[str]:
    """What to be wary of in this fit."""
    found = []
    if not facts["converged"]:
        found.append("the search stopped before it settled: widen the bounds, or match fewer unknowns")
    for one in facts["channels"]:
        if abs(one["z"]) > OFF:
            found.append(
                f"{plain(one['channel'])} is {one['bias']:+.2f} K off on average, {abs(one['z']):.1f} times what its "
                "calibration explains: look whether that probe sits where the case says"
            )
    if facts["reduced_chi_square"] > LEFT:
        found.append(
            f"what is left is {facts['reduced_chi_square']:.1f} times what the noise explains; the standard errors "
            "were widened by its root, but the model's form may be wrong"
        )
    watts = [plain(one["name"]) for one in facts["unknowns"] if one["watts"]]
    if watts:
        found.append(f"watts were matched ({_listed(watts)}): a wattmeter tells them better")
    if facts["degenerate"]:
        found.append(
            "later studies draw the matched inputs one by one; those that the logs do not tell apart would have to "
            "move together, so what they do together is drawn too wide"
        )
    if len(facts["runs"]) < 2:
        found.append("one run alone does not show how well a run repeats; three each are customary")
    return found
