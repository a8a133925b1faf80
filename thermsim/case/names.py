"""File names made from names in a case."""

import re


def slug(name: str) -> str:
    """Lower-case ASCII letters, digits and hyphens: "liquid, fans off" becomes "liquid-fans-off"."""
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-") or "unnamed"
