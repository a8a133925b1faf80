"""The command line: names of the commands, and what becomes of errors. Each command loads only when called."""

from __future__ import annotations

import errno
import importlib
import os
import sys
import warnings
from contextlib import suppress
from difflib import get_close_matches
from threading import Timer
from typing import Any

import click

from thermsim.stopping import Stopping

FULL = (errno.ENOSPC, errno.EFBIG, getattr(errno, "EDQUOT", errno.ENOSPC))
GRACE_S = 3.0  # for workers and libraries to end in order
COMMANDS = {
    "check": "Validate a case: watts ledger, hand estimates beside the model.",
    "run": "Run one case in time, from switch-on to its end.",
    "compare": "Run every option of a case and set them side by side.",
    "chill": "Sweep the inlet temperature: what chilled air alone would achieve.",
    "place": "Search for the place of a cold plate.",
    "mishap": "Let pumps, fans and rooms fail: time to the first limit, and what stays safe.",
    "sweep": "Rank the inputs, follow one, or sample them all.",
    "loop": "A coolant loop: what carries the heat, eats the head, must be filled in.",
    "pipes": "Heat pipes: load against capacity in every state, tilted, and with one lost.",
    "leak": "Leak rate of a loop from a fall of pressure, with its uncertainty.",
    "bench": "Before and after: what changed on the bench, how sure, and was the model right.",
    "fit": "Match the case to its runs on the bench: joints, films, losses, and how sure.",
    "report": "Write the page of a case from all its studies.",
    "merge": "Bring together the folders of shards that worked on other machines.",
    "plot": "Draw the figures of stored results.",
    "verify": "Prove this installation: published figures beside what it computes.",
    "example": "Copy a demo case into a folder of your own.",
    "keys": "List the tables and keys of a case file.",
}


class Commands(click.Group):
    """A group whose commands are imported when called, so that --help stays quick."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, name: str) -> click.Command | None:
        if name not in COMMANDS:
            return None
        module = importlib.import_module(f"thermsim.commands.{name}")
        command: click.Command = module.command
        return command

    def resolve_command(self, ctx: click.Context, args: list[str]) -> Any:
        if args and args[0] not in COMMANDS:
            near = get_close_matches(args[0], COMMANDS, n=1)
            hint = f'; did you mean "{near[0]}"?' if near else f"; there are {', '.join(COMMANDS)}"
            raise click.UsageError(f'there is no command "{args[0]}"{hint}', ctx)
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="thermsim")
def cli() -> None:
    """Transient thermal trade studies of electronic enclosures: air against liquid.

    Start with `thermsim check CASE`, then `thermsim compare CASE`. A CASE is a TOML file or a folder that
    holds a case.toml.

    Exit status: 0 done; 1 `run` found a must-have not met or `verify` a figure; 2 the input is wrong; 3 the solver
    gave up, workers were lost, or the disk is full; 130, 143 stopped by Ctrl-C, by SIGTERM: the next call goes on.
    """


def main() -> None:
    """Entry point; turns every error the user can cause into one message and a status."""
    stopping = Stopping()
    stopping.listen()
    open_streams()
    warnings.showwarning = note
    try:
        cli(standalone_mode=False)
        stopping.leave()
    except BaseException as error:
        # whatever was raised on the way, as by an import that was cut short, is the stop's doing
        if stopping.signal is not None or isinstance(error, (click.Abort, KeyboardInterrupt)):
            stop(stopping.status)
        sys.exit(tell(error))


def open_streams() -> None:
    """Have standard streams that the caller closed lead nowhere: else the next files opened would get their numbers."""
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            stream = open(os.devnull, mode, encoding="utf-8")  # noqa: SIM115  # for as long as the process lives
            os.set_inheritable(stream.fileno(), True)  # workers have them too
            setattr(sys, name, stream)


def note(
    message: Warning | str, category: type[Warning], filename: str, lineno: int, file: Any = None, line: Any = None
) -> None:
    """Show a warning without where in the code it was raised."""
    name = "note" if issubclass(category, UserWarning) else category.__name__
    click.echo(f"{name}: {message}", err=True)


def tell(error: BaseException) -> int | str | None:
    """Say what went wrong, in one message; the exit status. Raises what is not the user's doing but a defect."""
    if isinstance(error, SystemExit):
        return error.code
    from thermsim.case.names import printable

    if isinstance(error, click.ClickException):
        vars(error)["message"] = printable(error.message)  # final, by its type
        error.show()
        return 2
    if isinstance(error, MemoryError):
        click.echo(
            "memory ran out; a larger run.cell gives fewer unknowns, -j 1 has one case at a time in memory", err=True
        )
        return 3
    # our own errors carry their status; what carries none is a defect and shows its traceback
    text, status = of_system(error) if isinstance(error, OSError) else (str(error), getattr(error, "exit_status", None))
    if status is None:
        raise error
    click.echo(printable(text), err=True)
    show_where_to_look(error)
    return status


def of_system(error: OSError) -> tuple[str, int]:
    """What the system refused, and the exit status: a full disk is no mistake of the input."""
    where = f"{error.filename}: " if error.filename else ""
    if error.errno in FULL:
        return f"{where}{error.strerror}; what was finished is kept: make room, and the next call goes on", 3
    return (f"{where}{error.strerror}" if error.strerror else str(error)), 2


def stop(status: int) -> None:
    """Say so and end soon: what is being written is worth nothing before it is whole, so nothing is waited for long."""
    with suppress(OSError):
        click.echo("stopped; what was finished is kept", err=True)
        sys.stdout.flush()
    overdue = Timer(GRACE_S, os._exit, (status,))
    overdue.daemon = True
    overdue.start()
    sys.exit(status)


def show_where_to_look(error: BaseException) -> None:
    """Point to `thermsim keys` when a case file holds unknown keys or lacks some."""
    problems = getattr(error, "problems", ())
    if problems:
        from thermsim.commands.key_reference import kinds_to_look_up

        kinds = kinds_to_look_up(problems)
        if kinds is not None:
            click.echo(f"(what each key means: {' '.join(['thermsim keys', *kinds])})", err=True)
