"""Limits of the model in words: each by its name, where it is met, and what it means."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

Limit = dict[str, Any]
MOST = 4  # places or options named; the rest are counted


def limit_texts(limits: Sequence[Limit], every: int = 0) -> list[str]:
    """A text each, the gravest first. `every`: how many options there are; of a limit met in all none is named."""
    return [f"limit: {head(one)}{whose(one, every)}: {said(one)}" for one in limits]


def head(one: Limit) -> str:
    """Its name, and where."""
    return f"{one['name']} ({some(one['where'])})" if one["where"] else str(one["name"])


def whose(one: Limit, every: int) -> str:
    """The options it is met in, in brackets."""
    options = one.get("options", [])
    return f" [{some(options, '; ')}]" if options and len(options) != every else ""


def said(one: Limit) -> str:
    """What it means, and of which option that is told where options differ."""
    return f"{one['text']} (told of {one['worst_in']})" if one.get("worst_in") else str(one["text"])


def some(names: Sequence[str], between: str = ", ") -> str:
    """The first names, and how many more."""
    if len(names) <= MOST + 1:
        return between.join(names)
    return f"{between.join(names[:MOST])} and {len(names) - MOST} more"
