"""Limits of the model on the page: of all options and studies together, each name once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from thermsim.report.doubling_text import HEAD, doubling_about, doubling_rows
from thermsim.report.limits_text import said, some
from thermsim.studies.limits.entry import together

Facts = dict[str, Any]


def limit_lines(told: Mapping[str, Sequence[Facts]], studies: Mapping[str, Facts]) -> list[Facts]:
    """Name, places, options (empty: all) and text of each limit; `told` by option, then those of studies.

    The comparison only gathers those of the options.
    """
    every = dict(told)
    every |= {study: facts["limits"] for study, facts in studies.items() if study != "compare" and "limits" in facts}
    return [
        {
            "name": one["name"],
            "where": some(one["where"]),
            "options": "" if set(told) <= set(one["options"]) else some(one["options"], "; "),
            "text": said(one),
        }
        for one in together(every)
    ]


def doubled(summaries: Mapping[str, Facts]) -> list[Facts]:
    """What doubling told, of the options it was asked for: about, head and rows of a table each."""
    return [
        {"option": name, "about": doubling_about(told), "head": HEAD, "rows": doubling_rows(told)}
        for name, summary in summaries.items()
        if (told := summary["doubling"])
    ]
