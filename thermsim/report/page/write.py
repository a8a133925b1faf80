"""One self-contained page of a case: the answer first, then what it rests on."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Mapping
from contextlib import suppress
from importlib.resources import files
from pathlib import Path
from typing import Any

from thermsim.case.case import Case
from thermsim.case.errors import CaseError
from thermsim.report.page.content import page_content
from thermsim.report.page.words import apart, in_words, margin, share, signed
from thermsim.report.text import minutes, unit
from thermsim.solve.engine import Engine
from thermsim.store.result import Result, read_result
from thermsim.studies.compare import is_finished, option_cases, option_folder
from thermsim.studies.decide.roles import BASE
from thermsim.studies.stored import stored
from thermsim.studies.words import safe_share, safe_watts

ENGINES: tuple[Engine, ...] = ("reduced", "full")
SCRIPTS = ("core.js", "chart.js", "heatmap.js", "views.js", "placement.js", "start.js")
Facts = dict[str, Any]


def write_page(
    path: str | Path, title: str, results: Mapping[str, Result], studies: Mapping[str, Facts] | None = None
) -> Path:
    """Write whole results (by option name) and facts of studies (by study) as one HTML file; returns its path."""
    path = Path(path)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(page_text(title, results, studies or {}), encoding="utf-8")
    return path


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
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("thermsim.report.page"), autoescape=True, undefined=StrictUndefined, trim_blocks=True,
        lstrip_blocks=True,
    )  # fmt: skip
    environment.policies["json.dumps_kwargs"] = {"ensure_ascii": False, "separators": (",", ":")}
    environment.filters.update(
        number=signed, minutes=minutes, plain=in_words, share=share, unit=unit, margin=margin, apart=apart,
        safe_share=safe_share, safe_watts=safe_watts,
    )  # fmt: skip
    script = "\n".join(_template_file(name) for name in SCRIPTS)
    return environment.get_template("page.html").render(
        page_content(title, results, studies),
        style=_template_file("page.css"),
        script=script,
        script_hash=base64.b64encode(hashlib.sha256(script.encode()).digest()).decode("ascii"),
    )


def _template_file(name: str) -> str:
    return files("thermsim.report.page").joinpath("templates", name).read_text("utf-8")
