"""Options and `--set` changes: named sets of changes on the raw tables, before anything is validated."""

import tomllib
from collections.abc import Iterable, Iterator, Mapping
from copy import deepcopy
from dataclasses import dataclass, field
from fnmatch import fnmatchcase
from typing import Any

from thermsim.case.address import NAMED_KINDS, unknown_key
from thermsim.case.errors import CaseError, Finding, KeyPath, Problem, nearest
from thermsim.case.lines import dotted, split_address
from thermsim.case.reading import Raw, Source, plain_findings

SET = "--set"  # what stands for the file in messages about changes from outside it
Address = tuple[str, ...]
Change = tuple[str, Any]
Changes = Mapping[str, Any] | Iterable[Change | str]


@dataclass
class Draft:
    """Raw tables while changes are made; `origin` tells what wrote a key path that is not where it stands.

    `findings` are about key paths of the case file, or ("--set", address).
    """

    source: Source
    raw: Raw
    origin: dict[KeyPath, KeyPath] = field(default_factory=dict)
    findings: list[Finding] = field(default_factory=list)

    def written_at(self, path: KeyPath) -> KeyPath:
        """The key path in the file (or of the change) that wrote this key path of the merged case."""
        for length in range(len(path), 0, -1):
            if path[:length] in self.origin:
                return self.origin[path[:length]] + path[length:]
        return path

    def problem(self, path: KeyPath, message: str) -> Problem:
        """A finding about a key path of the file as a problem with file and line."""
        if path[:1] == (SET,):
            return Problem(SET, None, ".".join(map(str, path[1:])), message)
        return Problem(self.source.name, self.source.line(path), dotted(path), message)

    def problems(self, merged: Iterable[Finding] = ()) -> list[Problem]:
        """Own findings and those about key paths of the merged case, each once, by line."""
        found = [*self.findings, *((self.written_at(path), message) for path, message in merged)]
        problems = dict.fromkeys(self.problem(path, message) for path, message in found)
        return sorted(problems, key=lambda problem: problem.line or 0)

    def forget(self, path: KeyPath) -> None:
        """What wrote this key path and those below no longer matters."""
        for known in [known for known in self.origin if known[: len(path)] == path]:
            del self.origin[known]


def option_chain(draft: Draft, name: str) -> list[str]:
    """The option and those it is based on, lowest first; nothing, and a finding, if that cannot be."""
    options = draft.raw.get("option", {})
    chain: list[str] = []
    step: str | None = name
    while step is not None:
        at: KeyPath = ("option", chain[-1], "base") if chain else ("option",)
        if step not in options:
            draft.findings.append((at, f'unknown option "{step}"{nearest(step, options)}'))
            return []
        if step in chain:
            circle = " → ".join([*chain[chain.index(step) :], step])
            draft.findings.append((at, f"options are based on each other in a circle: {circle}"))
            return []
        chain.append(step)
        step = options[step].get("base")
    return chain[::-1]


def apply_option(draft: Draft, name: str, *, box: bool) -> None:
    """Remove, add, then set, as one option says; `box` chooses the changes to [box], or all others."""
    option = draft.raw["option"][name]
    at: KeyPath = ("option", name)
    remove = option.get("remove", [])
    for number, text in enumerate([remove] if isinstance(remove, str) else remove):
        _apply(draft, text, (*at, "remove", number), box=box)
    if not box:
        _add(draft, option.get("add", {}), (*at, "add"))
    for text, value in option.get("set", {}).items():
        _apply(draft, text, (*at, "set", text), value, box=box)


def apply_changes(draft: Draft, changes: Iterable[Change], *, box: bool) -> None:
    """Set what `--set` (or a caller) asks for."""
    for text, value in changes:
        _apply(draft, text, (SET, text), value, box=box)


def read_changes(changes: Changes) -> tuple[Change, ...]:
    """Changes as pairs; text such as `part.fpga.watts=20 W` is split, None removes. Raises `CaseError`."""
    pairs = changes.items() if isinstance(changes, Mapping) else changes
    found = tuple(read_change(one) if isinstance(one, str) else (one[0], deepcopy(one[1])) for one in pairs)
    odd = [
        Problem(SET, None, text, message)
        for text, value in found
        for one in ([text] if value is None else [text, value])
        for _, message in plain_findings(one)
    ]
    if odd:
        raise CaseError(odd)
    return found


def read_change(text: str) -> Change:
    """`address=value`; the value as TOML would read it, otherwise as text."""
    address, equals, value = text.partition("=")
    while address.count('"') % 2 and equals:
        more, equals, value = value.partition("=")
        address += "=" + more
    if not equals:
        message = 'expected address=value, for example part.fpga.watts="20 W"'
        raise CaseError([Problem(SET, None, text, message)])
    try:
        return address.strip(), tomllib.loads(f"value = {value.strip()}")["value"]
    except (ValueError, RecursionError):  # no TOML, or a number of thousands of digits: told as the text it is
        return address.strip(), value.strip()


def _apply(draft: Draft, text: str, origin: KeyPath, value: Any = None, *, box: bool) -> None:
    """Remove (no value) or set what an address points to."""
    path = split_address(text)
    if path is None:
        if not box:
            draft.findings.append((origin, f'"{text}" is not an address such as part.fpga.watts'))
        return
    if (path[0] == "box") != box:
        return
    if isinstance(value, dict) and path[0] == "duty" and len(path) == 2:
        _put(draft, path, origin, value)
        return
    for leaf, its_origin, its_value in _leaves(path, origin, value):
        message = _remove(draft, leaf) if value is None else _set(draft, leaf, its_origin, its_value)
        if message:
            draft.findings.append((its_origin, message))


def _put(draft: Draft, path: Address, origin: KeyPath, table: Raw) -> None:
    """A whole duty, which need not be there yet: a run may be driven by what was logged."""
    draft.raw.setdefault(path[0], {})[path[1]] = deepcopy(table)
    draft.forget(path)
    draft.origin[path] = origin


def _leaves(path: Address, origin: KeyPath, value: Any) -> Iterator[tuple[Address, KeyPath, Any]]:
    """A table as a value stands for each of its keys."""
    if not isinstance(value, dict):
        yield path, origin, value
        return
    for key, item in value.items():
        yield from _leaves((*path, key), (*origin, key), item)


def _remove(draft: Draft, path: Address) -> str | None:
    targets, message = _targets(draft, path)
    for target in targets:
        table: Any = draft.raw
        for key in target[:-1]:
            table = table.get(key) if isinstance(table, dict) else None
        if not isinstance(table, dict) or target[-1] not in table:
            known = table if isinstance(table, dict) else ()
            return f"there is no {dotted(target)} to remove{nearest(target[-1], known)}"
        del table[target[-1]]
        draft.forget(target)
    return message


def _set(draft: Draft, path: Address, origin: KeyPath, value: Any) -> str | None:
    targets, message = _targets(draft, path)
    if message:
        return message
    if len(path) < (3 if path[0] in NAMED_KINDS else 2):
        return f"{dotted(path)} is a whole table; set one of its keys"
    message = unknown_key(path)
    if message:
        return message
    for target in targets:
        table = draft.raw
        for key in target[:-1]:
            if not isinstance(table.get(key), dict):
                table[key] = {}
            table = table[key]
        table[target[-1]] = deepcopy(value)
        draft.forget(target)
        draft.origin[target] = origin
    return None


def _targets(draft: Draft, path: Address) -> tuple[list[Address], str | None]:
    """The things an address points to, wildcards in the name expanded, or what is wrong with it."""
    kind = path[0]
    if kind == "option":
        return [], "options are changed in the file"
    if kind == "box" and "box" not in draft.raw:
        return [], "there is no [box] in this case"
    if kind not in NAMED_KINDS or len(path) == 1:
        return [path], unknown_key(path[:1])
    tables = draft.raw.get(kind)
    names = tables if isinstance(tables, dict) else {}
    name = path[1]
    if name in names:
        return [path], None
    found = [(kind, known, *path[2:]) for known in names if fnmatchcase(known, name)]
    if found or "*" in name or "?" in name:
        return found, None if found else f'no {kind} matches "{name}"'
    return [], f'unknown {kind} "{name}"{nearest(name, names)}'


def _add(draft: Draft, tables: Raw, origin: KeyPath) -> None:
    for kind, named in tables.items():
        if kind not in NAMED_KINDS or kind == "option":
            message = f'cannot add "{kind}"{nearest(kind, NAMED_KINDS)}'
            draft.findings.append(((*origin, kind), message))
            continue
        if not isinstance(named, dict):
            draft.findings.append(((*origin, kind), f"must be a table of named {kind} tables"))
            continue
        known = draft.raw.setdefault(kind, {})
        for name, table in named.items():
            at = (*origin, kind, name)
            if not isinstance(known, dict) or name in known:
                draft.findings.append((at, f"{kind}.{name} is already there; use set to change it"))
                continue
            known[name] = deepcopy(table)
            draft.forget((kind, name))
            draft.origin[kind, name] = at
