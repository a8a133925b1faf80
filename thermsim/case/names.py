"""Names and other text of a case: as file names, and as what a terminal or a page may be given to show."""

import re
import unicodedata

# marks that turn the direction of what follows: text would be shown in another order than it is read in
_TURNING = "\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
_OBEYED = ("Cc", "Cs", "Zl", "Zp")  # control characters, halves of characters, ends of lines and paragraphs
_LAID_OUT = "\n\t"
_DEVICE = re.compile(r"con|prn|aux|nul|com\d|lpt\d")  # "Naming Files, Paths, and Namespaces", Microsoft's documentation


def slug(name: str) -> str:
    """Lower-case ASCII letters, digits and hyphens: "liquid, fans off" becomes "liquid-fans-off".

    What Windows takes for a device, as "con", has a hyphen behind it.
    """
    found = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-") or "unnamed"
    return f"{found}-" if _DEVICE.fullmatch(found) else found


def obeyed(text: str) -> str | None:
    """The first character that a terminal or the eye would obey rather than show; None if there is none.

    Ends of lines and tabs may stand in a text.
    """
    if text.isprintable() and text.isascii():
        return None
    return next((one for one in text if _is_obeyed(one)), None)


def _is_obeyed(one: str) -> bool:
    return one not in _LAID_OUT and (one in _TURNING or unicodedata.category(one) in _OBEYED)


def code(character: str) -> str:
    """How a character is called where it cannot be shown: "U+001B"."""
    return f"U+{ord(character):04X}"


def printable(text: str) -> str:
    """A text with such characters written out, as "\\u001b", so that a terminal shows them."""
    if obeyed(text) is None:
        return text
    return "".join(f"\\u{ord(one):04x}" if _is_obeyed(one) else one for one in text)


def shortened(text: str, most: int) -> str:
    """A text cut where it is longer than `most` characters, with a mark that it is."""
    return text if len(text) <= most else f"{text[:most]}…"
