"""Every library that an installation brings along is listed in DEVELOPERS.md with the licence its metadata states."""

import re
from importlib import metadata
from pathlib import Path

import thermsim

DEVELOPERS = Path(thermsim.__file__).resolve().parents[1] / "DEVELOPERS.md"
LISTED = re.compile(r"^\| (?P<licence>[^|]+) \| (?P<names>[^|]+) \|$", re.MULTILINE)
FAMILIES = {  # words of metadata that stand for a family
    "BSD": ("bsd",),
    "MIT": ("mit",),
    "Apache-2.0": ("apache",),
    "MPL-2.0": ("mpl", "mozilla"),
    "PSF": ("psf", "python software foundation"),
    "ISC": ("isc",),
    "LGPL": ("lgpl", "lesser general"),
    "NIST": (),  # fipy states its terms in a file only
    "proprietary, free of charge": ("proprietary",),
}


def listed() -> dict[str, str]:
    """Family by name, from the table of licences."""
    text = DEVELOPERS.read_text(encoding="utf-8").split("## Licences", 1)[1].split("\n## ", 1)[0]
    return {
        plain(name): match["licence"].strip()
        for match in LISTED.finditer(text)
        if match["licence"].strip() in FAMILIES
        for name in re.sub(r"\(.*?\)", "", match["names"]).split(",")
    }


def plain(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name.strip()).lower()


def brought_along(name: str, extras: tuple[str, ...] = ()) -> dict[str, metadata.Distribution]:
    """Distributions that one asks for, itself left out, as far as they are installed; extras are those of the first."""
    found: dict[str, metadata.Distribution] = {}
    waiting = [(name, extras)]
    while waiting:
        asking, wanted = waiting.pop()
        for requirement in metadata.distribution(asking).requires or []:
            extra = re.search(r"extra == ['\"]([\w-]+)['\"]", requirement)
            needed = re.match(r"[\w.-]+", requirement)[0]
            if (extra and extra[1] not in wanted) or plain(needed) in found:
                continue
            try:
                found[plain(needed)] = metadata.distribution(needed)
            except metadata.PackageNotFoundError:
                continue
            waiting.append((needed, ()))
    return found


def stated(distribution: metadata.Distribution) -> str:
    about = distribution.metadata
    classified = [line for line in about.get_all("Classifier") or [] if line.startswith("License")]
    words = " ".join([about.get("License-Expression") or "", *classified]).strip()
    return (words or (about.get("License") or "")[:60]).lower()


def is_of(family: str, words: str) -> bool:
    return any(re.search(rf"\b{sign}", words) for sign in FAMILIES[family])


def test_every_library_is_listed_with_its_licence():
    table = listed()
    for name, distribution in brought_along("thermsim", ("xarray", "cluster", "test")).items():
        assert name in table, f"{name}: {stated(distribution)}"
        assert not FAMILIES[table[name]] or is_of(table[name], stated(distribution)), (name, stated(distribution))


def test_an_installation_alone_brings_nothing_that_binds_what_it_is_linked_with():
    table = listed()
    assert {table[name] for name in brought_along("thermsim")} <= {"BSD", "MIT", "Apache-2.0", "PSF", "ISC", "NIST"}
