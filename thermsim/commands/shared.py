"""What the commands have in common: the case argument, --set, --json, -o, progress."""

from __future__ import annotations

import json
import os
import shutil
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Literal, TypeVar

import click

from thermsim.case import Case, load_case
from thermsim.case.names import code, obeyed

F = TypeVar("F", bound=Callable[..., Any])


def case_options(function: F) -> F:
    """CASE, --set and --json."""
    function = click.argument("case_path", metavar="CASE", type=click.Path())(function)
    function = click.option(
        "--set", "changes", multiple=True, metavar="NAME.KEY=VALUE",
        help='Change the case by address, as in --set part.fpga.watts="20 W". May be repeated.',
    )(function)  # fmt: skip
    return click.option("--json", "as_json", is_flag=True, help="Print JSON for machines.")(function)


def engine_option(function: F) -> F:
    """--engine."""
    return click.option(
        "--engine", type=click.Choice(["reduced", "full"]), default="reduced", show_default=True,
        help="How the history is worked out: in a few dozen fields that span it, or step by step in all unknowns.",
    )(function)  # fmt: skip


def read_case(path: str, option: str | None, changes: tuple[str, ...]) -> Case:
    """The case with an option ("base": none) and changes; warnings about it go to standard error."""
    case = load_case(path, None if option == "base" else option, changes)
    for warning in case.warnings:
        click.echo(f"note: {warning}", err=True)
    return case


def read_having(
    path: str, kind: Literal["loop", "heat_pipe"], chosen: tuple[str, ...], changes: tuple[str, ...]
) -> Case:
    """The case under the first option chosen, or else the first that has this: changes may be of what options add."""
    from thermsim.studies.chosen import having

    names = chosen or tuple(having(load_case(path), kind)[:1])
    return read_case(path, names[0] if names else None, changes)


def out_folder(out: str | None, case: Case, *more: str) -> Path:
    """Where results go: -o, or outputs/<case folder>/<option>. Refuses, before any work, what cannot be written to."""
    path = (case.path or Path("case")).resolve()  # else the name of ".." would lead out of outputs
    if out == "":  # of a shell's variable that is not set, most likely
        raise click.UsageError("-o: needs a folder; got nothing")
    name = path.stem if path.stem != "case" or not path.parent.name else path.parent.name
    folder = Path(out) if out is not None else Path("outputs", name, *more)
    character = obeyed(str(folder))
    if character is not None:
        raise click.UsageError(f"{folder}: holds the character {code(character)}; choose another folder with -o")
    return writable(folder)


def writable(folder: Path) -> Path:
    """The folder, if files can be made in it, or it in what there is of its path; else a message. Makes nothing."""
    there = next(place for place in (folder, *folder.absolute().parents) if place.exists())
    if not there.is_dir():
        raise click.UsageError(f"-o {folder}: {'' if there == folder else f'{there} '}is a file; expected a folder")
    if not os.access(there, os.W_OK | os.X_OK):
        raise click.UsageError(f"-o {folder}: nothing can be written to {there}; choose another folder")
    return folder


def text_width() -> int:
    """Columns of the terminal; 110 where the output is piped."""
    return shutil.get_terminal_size((110, 24)).columns if sys.stdout.isatty() else 110


def print_json(facts: Any) -> None:
    """Facts as JSON on standard output."""
    click.echo(json.dumps(facts, indent=2, ensure_ascii=False))


def show(
    case: Case, facts: dict[str, Any], folder: Path, text: Callable[[dict[str, Any], int], str],
    save: Callable[[dict[str, Any], Path], Any] | None, as_json: bool,
) -> None:  # fmt: skip
    """Draw a study's figures and the page (unless `save` is None), print it, and say where it is stored."""
    if save is not None:
        from thermsim.report.page.write import write_case_page

        save(facts, folder)
        write_case_page(case, folder)
    if as_json:
        print_json(facts)
        return
    click.echo(text(facts, text_width()))
    click.echo(f"\nStored in {folder}{' with figures' if save is not None else ''}.")


@contextmanager
def progress(label: str, quiet: bool) -> Iterator[Callable[[float, float], None] | None]:
    """A bar on standard error when that is a terminal; None when piped or quiet."""
    if quiet or not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    bar = Progress(
        TextColumn("{task.description}", markup=False), BarColumn(), TimeRemainingColumn(),
        console=Console(stderr=True), transient=True,
    )  # fmt: skip
    with bar:
        task = bar.add_task(label, total=None)
        yield lambda done, total: bar.update(task, completed=done, total=total)
