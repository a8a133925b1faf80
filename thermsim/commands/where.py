"""-j, --cluster and --shard: where a study's pieces of work are done."""

from __future__ import annotations

import functools
import logging
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import TYPE_CHECKING, Any, TypeVar

import click

from thermsim.commands.shared import print_json

if TYPE_CHECKING:
    from thermsim.studies.where import Shard, Where

F = TypeVar("F", bound=Callable[..., Any])


def where_options(function: F) -> F:
    """The flags; the command gets them as `where`. A shard ends the command when its share is done."""

    @functools.wraps(function)
    def command(*args: Any, processes: int | None, cluster: str | None, shard: str | None, **given: Any) -> Any:
        from thermsim.studies.where import ShareDone

        with _where(processes, cluster, shard) as where:
            try:
                return function(*args, where=where, **given)
            except ShareDone as done:
                tell_share(done.shard, given.get("as_json", False))

    for option in (
        click.option("--shard", metavar="I/N", help="Do the I-th of N shares and no more, for N calls side by side; "
                     "then call without it."),
        click.option("--cluster", metavar="ADDRESS", help="Work on a dask cluster, such as tcp://host:8786."),
        click.option("-j", "processes", type=click.IntRange(1), metavar="N",
                     help="Pieces of work at once (default: as many as there are cores)."),
    ):  # fmt: skip
        command = option(command)
    return command  # type: ignore[return-value]


@contextmanager
def _where(processes: int | None, address: str | None, shard: str | None) -> Iterator[Where]:
    from thermsim.studies.where import Shard, Where

    try:
        share = None if shard is None else Shard.parse(shard)
    except ValueError as error:
        raise click.UsageError(f"--shard: {error}") from None
    if address is None:
        yield Where(processes, shard=share)
        return
    if processes is not None:
        raise click.UsageError("-j is about this machine, --cluster about others; give one of them")
    from thermsim.studies.cluster import cluster

    with _without_logs(), cluster(address) as where:
        yield replace(where, shard=share)


@contextmanager
def _without_logs() -> Iterator[None]:
    """Of a scheduler that is gone the cluster's library logs tracebacks; what comes of that is told in one message."""
    logging.disable()
    try:
        yield
    finally:
        logging.disable(logging.NOTSET)


def tell_share(shard: Shard, as_json: bool) -> None:
    """What a shard did."""
    if as_json:
        facts = {name: getattr(shard, name) for name in ("number", "of", "done", "there", "others")}
        print_json({"shard": facts})
    else:
        click.echo(f"{shard.told()}. When all have ended, call without --shard for the answer.")
