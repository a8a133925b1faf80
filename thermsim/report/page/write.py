"""One self-contained page of a case: the answer first, then what it rests on."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

from thermsim.case.case import Case
from thermsim.case.errors import CaseError
from thermsim.report.page.content import page_content
from thermsim.report.page.environment import environment, template_file
from thermsim.solve.engine import Engine
from thermsim.store.result import Result, read_result
from thermsim.store.whole import write_whole
from thermsim.studies.compare import is_finished, option_cases, option_folder
from thermsim.studies.decide.roles import BASE
from thermsim.studies.stored import stored

ENGINES: tuple[Engine, ...] = ("reduced", "full")
SCRIPTS = ("core.js", "chart.js", "heatmap.js", "views.js", "placement.js", "start.js")
Facts = dict[str, Any]


def write_page(
    path: str | Path, title: str, results: Mapping[str, Result], studies: Mapping[str, Facts] | None = None
) -> Path:
    """Write whole results (by option name) and facts of studies (by study) as one HTML file; returns its path."""
    return write_whole(path, page_text(title, results, studies or {}))


def write_case_page(case: Case, folder: str | Path) -> Path | None:
    """Write page.html of all that a folder holds for this very case: finished options and studies.

    None, and no page, where no option is finished. An option that the changes of the case do not fit is none of it.
    """
    cases: dict[str, Case] = {}
    for name in (BASE, *case.options):
        with suppress(CaseError):
            cases |= option_cases(case, [name])
    places = {name: (one, option_folder(folder, name)) for name, one in cases.items()}
    results = {
        name: read_result(place)
        for name, (one, place) in places.items()
        if any(is_finished(one, place, engine) for engine in ENGINES)
    }
    if not results:
        return None
    return write_page(Path(folder) / "page.html", case.title, results, stored(folder, case))


def page_text(title: str, results: Mapping[str, Result], studies: Mapping[str, Facts]) -> str:
    """The page as text. Style, script and data stand in it; its policy lets nothing else be loaded or run."""
    script = "\n".join(template_file(name) for name in SCRIPTS)
    return (
        environment()
        .get_template("page.html")
        .render(
            page_content(title, results, studies),
            style=template_file("page.css"),
            script=script,
            script_hash=base64.b64encode(hashlib.sha256(script.encode()).digest()).decode("ascii"),
        )
    )
