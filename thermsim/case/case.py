"""A case: what the user wrote with one option and the asked-for changes applied, checked and in SI."""

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Self

from thermsim.case.errors import CaseError, KeyPath, Problem
from thermsim.case.lines import dotted
from thermsim.case.merge import merge
from thermsim.case.options import Change, Changes, read_changes
from thermsim.case.reading import Raw, Source, read_file, read_tables, read_text
from thermsim.case.schema import Spec
from thermsim.case.validate import as_plain

APPLIED = "applied"  # the table of a resolved case that tells what was applied
# no run depends on them
BESIDE_THE_RUN = ("option", "decide", "chill", "place", "keep_out", "screw", "uncertain", "bench", "fit", "leak")
STUDY_SETTINGS = ("chill", "place", "bench", "fit", "leak")  # of single studies; a flag of theirs makes no other case


@dataclass(frozen=True)
class Case:
    """An immutable case. Variants are made with `with_option`, `with_changes`, `with_mishaps`."""

    spec: Spec
    option: str | None
    mishaps: tuple[str, ...]  # names of those that happen
    path: Path | None
    warnings: tuple[Problem, ...]
    _changes: tuple[Change, ...] = field(repr=False)
    _source: Source = field(repr=False)
    _merged: Raw = field(repr=False)
    _applies: str | None = field(repr=False)  # the option, unless the source is a case it was applied to already

    @classmethod
    def load(cls, path: str | Path, option: str | None = None, changes: Changes = ()) -> Self:
        """From a file, or a folder with a case.toml; see `load_case`."""
        return cls._build(read_file(Path(path)), option, read_changes(changes), Path(path))

    @classmethod
    def from_text(cls, text: str, name: str = "case", option: str | None = None, changes: Changes = ()) -> Self:
        """From the text of a case file; `name` stands for the file in messages."""
        return cls._build(read_text(text, name), option, read_changes(changes))

    @classmethod
    def from_dict(cls, tables: Mapping[str, Any], name: str = "case") -> Self:
        """From plain tables, with quantities as text, as TOML would give them."""
        return cls._build(read_tables(dict(tables), name))

    @classmethod
    def from_resolved(cls, resolved: Mapping[str, Any], name: str = "case") -> Self:
        """The case that `resolved` describes; the file's other options are no longer there."""
        tables = dict(resolved)
        applied = tables.pop(APPLIED, {})
        case = cls._build(read_tables(tables, name), mishaps=tuple(applied.get("mishaps", ())))
        return replace(case, option=applied.get("option"))

    @classmethod
    def _build(
        cls,
        source: Source,
        option: str | None = None,
        changes: tuple[Change, ...] = (),
        path: Path | None = None,
        mishaps: tuple[str, ...] | None = None,
    ) -> Self:
        merged = merge(source, option, changes, mishaps)
        return cls(merged.spec, option, merged.mishaps, path, merged.warnings, changes, source, merged.raw, option)

    @property
    def title(self) -> str:
        """What the case is called."""
        return self.spec.case.title

    @property
    def options(self) -> tuple[str, ...]:
        """Names of the options, in the order of the file."""
        return tuple(self._source.raw.get("option", ()))

    @property
    def folder(self) -> Path:
        """Where files that the case names are: beside its own, or here if it has none."""
        if self.path is None:
            return Path()
        return self.path if self.path.is_dir() else self.path.parent

    def problem(self, path: KeyPath, message: str) -> Problem:
        """What was found to be wrong with a key path later than the case's own checks, with file and line."""
        return Problem(self._source.name, self._source.line(path), dotted(path), message)

    def with_option(self, name: str | None) -> Self:
        """The same file and changes with another option (none: the base case)."""
        return self._build(self._source, name, self._changes, self.path)

    def with_changes(self, changes: Changes) -> Self:
        """With further changes, such as {"part.fpga.watts": "20 W"}, made after the option's; None removes."""
        more = (*self._changes, *read_changes(changes))
        changed = self._build(self._source, self._applies, more, self.path, self.mishaps)
        return replace(changed, option=self.option)

    def with_mishaps(self, names: Iterable[str]) -> Self:
        """With these mishaps happening, in place of the option's own."""
        struck = self._build(self._source, self._applies, self._changes, self.path, tuple(names))
        return replace(struck, option=self.option)

    def resolved(self) -> dict[str, Any]:
        """Plain tables as written, with option, changes and box applied: enough to build the case again."""
        tables = {kind: table for kind, table in self._merged.items() if kind not in BESIDE_THE_RUN}
        # a mishap that does not happen may speak of things only another option has
        tables["mishap"] = {name: table for name, table in tables.get("mishap", {}).items() if name in self.mishaps}
        applied = {"option": self.option, "mishaps": list(self.mishaps)}
        return {APPLIED: applied, **as_plain(tables)}

    def fingerprint(self) -> str:
        """SHA-256 (hex) of the resolved case, whatever the order of its tables."""
        return digest_of(self.resolved())

    def content(self) -> str:
        """The same of all but the option's name: cases that have it in common come to the same under any name."""
        return content_of(self.resolved())

    def digest(self) -> str:
        """SHA-256 (hex) of all that the file says, with the changes: what a study of several options depends on.

        Changes of a study's own settings, such as `chill.low`, do not count: they make no other case.
        """
        changes = [change for change in self._changes if change[0].split(".")[0] not in STUDY_SETTINGS]
        return digest_of([self._source.raw, changes])


def content_of(resolved: Mapping[str, Any]) -> str:
    """`Case.content` of the case that `resolved` describes."""
    return digest_of({**resolved, APPLIED: {**resolved.get(APPLIED, {}), "option": None}})


def digest_of(plain: Any) -> str:
    """SHA-256 (hex) of plain values, whatever the order of their tables."""
    text = json.dumps(plain, sort_keys=True, ensure_ascii=False, default=str)
    return hashlib.sha256(text.encode()).hexdigest()


def load_case(path: str | Path, option: str | None = None, changes: Changes = ()) -> Case:
    """Load a case file (or a folder's case.toml) with one of its options.

    `changes` are made after the option: {"part.fpga.watts": "20 W"}, pairs, or text "part.fpga.watts=20 W".
    Raises `CaseError` with all problems found.
    """
    return Case.load(path, option, changes)


def check_all_options(case: Case) -> list[Problem]:
    """What is wrong with the case under any of its options, each problem once."""
    problems: dict[Problem, None] = {}
    for name in case.options:
        try:
            case.with_option(name)
        except CaseError as error:
            problems.update(dict.fromkeys(error.problems))
    return list(problems)
