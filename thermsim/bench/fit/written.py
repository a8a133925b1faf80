"""The matched values as options of the case: a block of TOML, and its place at the end of the case file."""

from __future__ import annotations

import json
import stat
import tomllib
from collections.abc import Iterator, Sequence
from math import exp, floor, log10
from pathlib import Path

from thermsim import units
from thermsim.bench.fit.unknowns import Unknown
from thermsim.bench.fit.worth import Worth
from thermsim.case.case import Case
from thermsim.case.errors import CaseError, Problem
from thermsim.case.lines import dotted
from thermsim.case.reading import CASE_FILE
from thermsim.case.targets import Target, owned_targets
from thermsim.store.whole import write_whole

BEGIN = "# >>> matched to the bench by thermsim fit; --write writes this block anew >>>"
END = "# <<< matched to the bench by thermsim fit <<<"
FINEST = 0.05  # of a standard error, that rounding may move a value
FEWEST_DIGITS, MOST_DIGITS = 3, 7
TWO_SIGMA = 2.0  # what a spread stands for in a normal law


def fitted_name(case: Case, option: str | None) -> str:
    """What the option with the matched values is called."""
    return case.spec.fit.name if option is None else f"{option}, {case.spec.fit.name}"


def fitted_toml(case: Case, worth: Worth) -> str:
    """The block, without its markers: an option for each that was logged, with the values and what is left unsure."""
    runs = worth.matching.runs
    blocks = []
    for option in dict.fromkeys(run.option for run in runs):
        mine = [run.name for run in runs if run.option == option]
        head = f"[option.{_quoted(fitted_name(case, option))}]"
        lines = [head, *([f"base = {_quoted(option)}"] if option else [])]
        lines += [f"note = {_quoted('matched to the bench: ' + ', '.join(mine))}", "", f"{head[:-1]}.set]"]
        lines += [f"{_quoted(address)} = {_value(value)}" for address, value in _changes(case, worth, option)]
        blocks.append("\n".join(lines) + "\n")
    return "\n".join(blocks)


def _changes(case: Case, worth: Worth, option: str | None) -> Iterator[tuple[str, object]]:
    variant = next(run.case for run in worth.matching.runs if run.option == option)
    owned = owned_targets(variant.spec, {name: table.of for name, table in variant.spec.uncertain.items()})
    narrowed = []
    for k, unknown in enumerate(worth.unknowns):
        targets = unknown.targets.get(option, ())
        x, sd = float(worth.matched.x[k]), min(float(worth.standard[k]), unknown.prior)
        for target in targets:
            yield target.address, _moved(unknown, target, x, sd)
        paths = {target.path for target in targets}
        name = next((name for name, mine in owned.items() if paths and {one.path for one in mine} == paths), None)
        if name is not None:
            narrowed += list(_narrowed(variant, name, unknown, targets, x, sd))
    yield from narrowed


def _moved(unknown: Unknown, target: Target, x: float, sd: float) -> object:
    """The target's value at x, in no more digits than its standard error asks for."""
    amount = unknown.amount(x)
    size = abs(target.nominal or 1.0) * amount * sd if unknown.is_factor else sd
    if target.nominal is None:  # a curve, watts by state, emissivities
        return target.scaled(rounded(amount, amount * sd))
    value = target.nominal * amount if unknown.is_factor else target.nominal + amount
    return target.written(rounded(value, size))


def _narrowed(
    case: Case, name: str, unknown: Unknown, targets: Sequence[Target], x: float, sd: float
) -> Iterator[tuple[str, object]]:
    """What is left unsure of an unknown, as the spread that later studies draw from."""
    table, first = case.spec.uncertain[name], targets[0]

    def key(which: str) -> str:
        return dotted(("uncertain", name, which))

    if table.spread is None:  # low and high about the new value
        size = abs(first.nominal or 1.0) * unknown.amount(x) * sd if unknown.is_factor else sd
        middle = (first.nominal or 0.0) * unknown.amount(x) if unknown.is_factor else (first.nominal or 0.0) + x
        yield key("law"), "normal"
        yield key("low"), first.written(rounded(middle - TWO_SIGMA * size, size))
        yield key("high"), first.written(rounded(middle + TWO_SIGMA * size, size))
    elif unknown.is_factor and isinstance(table.spread, str) and table.spread.strip().endswith("%"):
        share = exp(TWO_SIGMA * sd) - 1 if table.law == "lognormal" else TWO_SIGMA * sd
        yield key("law"), "lognormal" if table.law == "lognormal" else "normal"
        yield key("spread"), f"{100 * max(rounded(share, share / 5), 1e-4):.6g} %"
    else:
        size = abs(first.nominal or 1.0) * unknown.amount(x) * sd if unknown.is_factor else sd
        dimension = "difference" if first.dimension == "temperature" else first.dimension
        width = rounded(TWO_SIGMA * size, size)
        yield key("law"), "normal"
        yield key("spread"), width if dimension is None else f"{width:.10g} {units.base_unit(dimension)}"


def rounded(value: float, standard: float) -> float:
    """A value in as many digits as its standard error asks for, three at least."""
    if not value:
        return 0.0
    digits = FEWEST_DIGITS
    if standard > 0:
        digits = floor(log10(abs(value))) - floor(log10(2 * FINEST * standard)) + 1
    digits = min(max(digits, FEWEST_DIGITS), MOST_DIGITS)
    return float(f"{value:.{digits}g}")


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def _value(value: object) -> str:
    return json.dumps(value, ensure_ascii=False)


def check_names(case: Case, names: Sequence[str]) -> None:
    """See, before any work, that the block has a place and no other option its names. Raises `CaseError`."""
    text = with_block(_source_text(case), "")
    taken = tomllib.loads(text).get("option", {}) if text is not None else {}
    for name in names:
        if name in taken:
            message = f'there is an option "{name}" already, which fit has not written; choose another name'
            raise CaseError([Problem(case_file(case).name, None, "fit.name", message)])


def check_block(case: Case, block: str, names: Sequence[str]) -> None:
    """See that the case loads with the block and with each of its options. Raises `CaseError`."""
    text = with_block(_source_text(case), block)
    if text is None:
        return
    for name in (None, *names):
        Case.from_text(text, case_file(case).name if case.path else "case", name)


def write_into(case: Case, block: str, names: Sequence[str]) -> Path:
    """Put the block at the end of the case's file, or in place of the one before; the rest stays as it is.

    The file is replaced whole, and only by one that loads. Raises `CaseError`.
    """
    if case.path is None:
        raise CaseError([Problem("case", None, "", "was not read from a file; nothing to write to")])
    path = case_file(case).resolve()  # a link stays one
    if not path.stat().st_mode & stat.S_IWUSR:
        raise CaseError([Problem(path.name, None, "", "is read-only; nothing was written to it")])
    text = path.read_bytes().decode("utf-8")
    changed = with_block(text, block)
    assert changed is not None
    for name in (None, *names):
        Case.from_text(changed.removeprefix("\ufeff"), path.name, name)
    return write_whole(path, changed)


def case_file(case: Case) -> Path:
    """The file of a case that may have been named by its folder."""
    path = case.path or Path("case.toml")
    return path / CASE_FILE if path.is_dir() else path


def _source_text(case: Case) -> str | None:
    return None if case.path is None else case_file(case).read_bytes().decode("utf-8-sig")


def with_block(text: str | None, block: str) -> str | None:
    """A case's text with the block in place of an earlier one, or at its end.

    Raises `CaseError` where the marks of an earlier block are not one pair: what lies between might be the user's.
    """
    if text is None:
        return None
    newline = "\r\n" if "\r\n" in text else "\n"
    whole = newline.join([BEGIN, *block.rstrip("\n").split("\n"), END])
    begin, end = text.find(BEGIN), text.find(END)
    marks = text.count(BEGIN), text.count(END)
    if marks not in ((0, 0), (1, 1)) or end < begin:
        line = text[: max(0, min(at for at in (begin, end) if at >= 0))].count("\n") + 1
        message = (
            f"the block that fit --write writes is marked by one line {BEGIN!r} and one {END!r}; mend or remove them"
        )
        raise CaseError([Problem(CASE_FILE, line, "", message)])
    if marks == (1, 1):
        return text[:begin] + whole + text[end + len(END) :]
    return text.rstrip() + 2 * newline + whole + newline
