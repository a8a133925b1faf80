"""The pages' templates with their filters, and the files beside them."""

from __future__ import annotations

from importlib.resources import files
from typing import TYPE_CHECKING

from thermsim.report.page.words import apart, in_words, margin, share, signed
from thermsim.report.text import minutes, unit
from thermsim.studies.words import safe_share, safe_watts

if TYPE_CHECKING:
    from jinja2 import Environment


def environment() -> Environment:
    """Templates that escape what they are given and fail on a name that is missing."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    made = Environment(
        loader=PackageLoader("thermsim.report.page"), autoescape=True, undefined=StrictUndefined, trim_blocks=True,
        lstrip_blocks=True,
    )  # fmt: skip
    made.policies["json.dumps_kwargs"] = {"ensure_ascii": False, "separators": (",", ":")}
    made.filters.update(
        number=signed, minutes=minutes, plain=in_words, share=share, unit=unit, margin=margin, apart=apart,
        safe_share=safe_share, safe_watts=safe_watts,
    )  # fmt: skip
    return made


def template_file(name: str) -> str:
    """The text of a style sheet or script."""
    return files("thermsim.report.page").joinpath("templates", name).read_text("utf-8")
