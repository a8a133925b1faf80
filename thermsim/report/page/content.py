"""Everything the page shows, as plain values: what the templates write out, and the data its script draws from."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from thermsim.report.curves import compare_curves
from thermsim.report.figures import apart, image, sheets_worth_comparing
from thermsim.report.maps import compare_maps
from thermsim.report.page.answer import larger_sample, page_answer
from thermsim.report.page.basis import basis
from thermsim.report.page.bench import bench_charts, bench_content
from thermsim.report.page.chill import chill_charts
from thermsim.report.page.fit import fit_charts, fit_content
from thermsim.report.page.leak import leak_charts
from thermsim.report.page.limits import doubled, limit_lines
from thermsim.report.page.loop import loop_charts, loop_content
from thermsim.report.page.mishap import mishap_charts, mishap_groups
from thermsim.report.page.options import heat_table, in_groups, limits_of, option_lines
from thermsim.report.page.pipes import pipes_charts, pipes_content
from thermsim.report.page.place import place_data
from thermsim.report.page.sweep import sweep_charts, sweep_content
from thermsim.report.page.trials import share_tables
from thermsim.report.page.views import views_data
from thermsim.report.rows import Row, answer, option_row
from thermsim.report.style import heat_map
from thermsim.solve.noise import left_out, without
from thermsim.store.result import Result
from thermsim.studies.byhand import assumed
from thermsim.studies.stored import STUDIES
from thermsim.studies.words import plain, told_apart

if TYPE_CHECKING:
    from matplotlib.figure import Figure

Facts = dict[str, Any]
STATIC_DPI = 75  # of the pictures shown where no script runs
COLOURS = 64
SECTIONS = {
    "answer": "The answer", "trials": "Cheap steps", "views": "Maps and warm-up", "chill": "Chilled air alone",
    "place": "Where the plate goes", "loop": "The loop", "pipes": "Heat pipes", "mishap": "When things fail",
    "sweep": "How sure it is", "leak": "Leak test", "bench": "Before and after", "fit": "Matched to the bench",
    "heat": "Where the heat goes", "parts": "Every part", "basis": "What it rests on", "cautions": "Cautions",
}  # fmt: skip

CONTENTS = {"pipes": pipes_content, "sweep": sweep_content, "bench": bench_content, "fit": fit_content}


def page_content(title: str, results: Mapping[str, Result], studies: Mapping[str, Facts]) -> Facts:
    """Content of the page of whole results by option name and stored facts by study."""
    summaries = {name: result.summary for name, result in results.items()}
    rows = [option_row(result, name) for name, result in results.items()]
    compare = studies.get("compare")
    lines = option_lines(rows, compare)
    shown = _first_shown(lines)
    trials = share_tables(compare) if compare else []
    first = next(iter(results.values()))
    return {
        "title": title,
        "note": first.case.spec.case.note,
        "version": first.summary["thermsim"],
        "room": first.case.spec.room,
        "supplied_w": first.summary["ledger"]["supplied_w"],
        "invented": any(summary["invented"] for summary in summaries.values()),
        "answer": page_answer(compare, studies) if compare else answer(rows),
        "decision": compare["decision"] if compare else None,
        "larger": larger_sample(compare, studies.get("sweep")) if compare else None,
        "lines": lines,
        "kinds": in_kinds(lines),
        "unheard": unheard(lines),
        "silent": silent(results),
        "trials": trials,
        "unsure_k": compare["uncertainty"]["temperature_k"] if compare else None,
        "limits": limits_of(rows),
        "heat": heat_table(results),
        "criteria": {name: summary["warm_up"].get("criteria", {}) for name, summary in summaries.items()},
        "basis": basis(results),
        "assumed": in_groups({name: assumed(result.case.spec) for name, result in results.items()}),
        "model_limits": limit_lines({name: summary["limits"] for name, summary in summaries.items()}, studies),
        "doubled": doubled(summaries),
        "warnings": warning_lines({name: summary["warnings"] for name, summary in summaries.items()}, studies),
        "cautions": _cautions(summaries, studies),
        "closure": max(abs(summary["energy"]["residual_fraction"]) for summary in summaries.values()),
        "unknowns": max(summary["solution"]["unknowns"] for summary in summaries.values()),
        "static": static_figures(results, rows),
        "sections": _sections(studies, trials),
        **_study_contents(studies),
        "data": {
            "colours": colours(),
            **_study_data(studies),
            "views": views_data(results, shown, {line["option"]: in_short(line) for line in lines}),
        },
    }


def _sections(studies: Mapping[str, Facts], trials: Sequence[Facts]) -> dict[str, str]:
    """Anchors and titles of the sections there are, in order."""
    there = {anchor: name for anchor, name in SECTIONS.items() if anchor not in STUDIES or anchor in studies}
    return there if trials else {anchor: name for anchor, name in there.items() if anchor != "trials"}


def _study_contents(studies: Mapping[str, Facts]) -> Facts:
    """What the templates of the studies' sections write out."""
    found: Facts = {}
    found.update({study: studies[study] for study in ("chill", "leak") if study in studies})
    if "place" in studies:
        place = studies["place"]
        rotations = sorted({one["rotation_deg"] for one in place["positions"]})
        found["place"] = place | {"rotations": rotations}
    if "loop" in studies:
        found["loop_book"] = loop_content(studies["loop"])  # `loop` is a word of the templates
    if "pipes" in studies:
        found["pipes"] = studies["pipes"]
    for study, make in CONTENTS.items():
        if study in studies:
            found[study] = make(studies[study])
    if "mishap" in studies:
        found["mishap"] = studies["mishap"] | {"groups": mishap_groups(studies["mishap"])}
    return found


def _study_data(studies: Mapping[str, Facts]) -> Facts:
    """What the script draws of the studies."""
    makers = {
        "chill": chill_charts, "mishap": mishap_charts, "sweep": sweep_charts, "loop": loop_charts,
        "leak": leak_charts, "pipes": pipes_charts, "bench": bench_charts, "fit": fit_charts,
    }  # fmt: skip
    charts: Facts = {}
    for study, make in makers.items():
        if study in studies:
            charts |= make(studies[study])
    return {"charts": charts} | ({"place": place_data(studies["place"])} if "place" in studies else {})


def _first_shown(lines: Sequence[Facts]) -> list[str]:
    """Options whose maps are shown at first, side by side: the box as it is, and the one to take."""
    designs = [line["option"] for line in lines if line["kind"] == "design"] or [line["option"] for line in lines]
    now = next((line["option"] for line in lines if line["option"] == "base"), designs[-1])
    return [now, next((name for name in designs if name != now), now)]


def in_kinds(lines: Sequence[Facts]) -> str:
    """How many designs there are, and how many of them under other conditions or with a mishap."""
    counts = {kind: sum(line["kind"] == kind for line in lines) for kind in ("design", "conditions", "mishap")}
    told = [f"{counts['design']} design{'' if counts['design'] == 1 else 's'}"]
    told += [f"{counts['conditions']} under other conditions"] if counts["conditions"] else []
    return ", ".join(told + ([f"{counts['mishap']} with a mishap"] if counts["mishap"] else []))


def unheard(lines: Sequence[Facts]) -> list[tuple[str, str]]:
    """What levels leave out, with the options it concerns."""
    return in_groups({line["option"]: [left_out(line["noise_without"])] for line in lines if line["noise_without"]})


def silent(results: Mapping[str, Result]) -> list[str]:
    """Fans and pumps that the case says are not heard, under whichever option they are there."""
    found = [
        f"{kind}.{name}"
        for result in results.values()
        for kind, tables in (("fan", result.case.spec.fan), ("pump", result.case.spec.pump))
        for name, table in tables.items()
        if not table.heard
    ]
    return list(dict.fromkeys(found))


def in_short(line: Facts) -> str:
    """An option in a line: must-haves, margin, noise, warm-up."""
    told = ["✓ all must-haves met" if line["meets_all"] else f"✗ {len(line['failed'])} must-haves not met"]
    if line["failed"] == [] and not line["meets_all"]:
        told = ["cannot tell whether all must-haves are met"]
    if line["worst_part"] is not None:
        margin = line["worst_margin_k"]
        away = "to" if margin >= 0 else "over"
        told.append(f"{told_apart(abs(margin), 0.0)} K {away} the limit of {plain(line['worst_part'])}")
    if line["noise_with_room_dba"] is not None:
        told.append(f"{line['noise_with_room_dba']:.1f} dB(A){without(line['noise_without'])}")
    return "; ".join(told)


def warning_lines(told: Mapping[str, Sequence[str]], studies: Mapping[str, Facts]) -> list[tuple[str, str]]:
    """Each warning once, with the options or the study it is of."""
    found = in_groups(told)
    known = {text for texts in told.values() for text in texts}
    for study, facts in studies.items():
        found += [(text, study) for text in facts["warnings"] if text not in known]
    return found


def _cautions(summaries: Mapping[str, Facts], studies: Mapping[str, Facts]) -> list[str]:
    told = [text for summary in summaries.values() for text in summary["cautions"]]
    return list(dict.fromkeys(told + [text for facts in studies.values() for text in facts["cautions"]]))


def colours() -> list[str]:
    """The colours of temperature, cold to hot, as the figures have them."""
    scale = heat_map()
    found = (scale(k / (COLOURS - 1)) for k in range(COLOURS))
    return ["#" + "".join(f"{round(255 * part):02x}" for part in colour[:3]) for colour in found]


def static_figures(results: Mapping[str, Result], rows: Sequence[Row]) -> list[dict[str, str]]:
    """Pictures for readers whose browser runs no script: the first sheet's maps, the tightest part's curves."""
    group = next(iter(apart(results).values()))
    told = [
        _picture(compare_maps(group, address), f"Temperature maps of {plain(address)} at the end of each run")
        for address in sheets_worth_comparing(group)[:1]
    ]
    margins = {row["worst_part"]: row["worst_margin_k"] for row in rows if row["worst_part"] and row["option"] in group}
    if margins:
        part = min(margins, key=lambda name: margins[name])
        told.append(_picture(compare_curves(group, part), f"Temperature of {plain(part)} over time, by option"))
    return told


def _picture(figure: Figure, alternative: str) -> dict[str, str]:
    return {"data": b64encode(image(figure, "png", STATIC_DPI)).decode("ascii"), "alt": alternative}
