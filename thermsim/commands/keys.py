"""`thermsim keys`."""

from __future__ import annotations

from textwrap import wrap
from typing import Any

import click

from thermsim.case.errors import nearest
from thermsim.commands.shared import print_json, text_width

Row = dict[str, Any]


@click.command("keys")
@click.argument("names", metavar="[NAME]...", nargs=-1)
@click.option("--json", "as_json", is_flag=True, help="Print JSON for machines.")
def command(names: tuple[str, ...], as_json: bool) -> None:
    """What a case file may hold: all tables, or the keys of those named (part, sink, box ...).

    A NAME may also be a key, such as emissivity: then every table that has it is shown.
    """
    from thermsim.commands.key_reference import tables

    known = tables()
    chosen = chosen_tables(known, names) if names else known
    if as_json:
        print_json(chosen)
        return
    width = text_width()
    click.echo("\n\n".join(table_text(row, width) for row in chosen) if names else overview(known, width))


def chosen_tables(known: list[Row], names: tuple[str, ...]) -> list[Row]:
    """The tables of the named kinds; for the name of a key, the tables that have it with that key alone."""
    chosen = []
    for name in names:
        found = [row for row in known if name in (row["kind"], row["table"])]
        found = found or [
            {**row, "keys": only} for row in known if (only := [key for key in row["keys"] if key["key"] == name])
        ]
        if not found:
            every = [row["kind"] for row in known] + [key["key"] for row in known for key in row["keys"]]
            raise click.UsageError(f'there is no table or key "{name}"{nearest(name, dict.fromkeys(every))}')
        chosen += [row for row in found if row not in chosen]
    return chosen


def overview(known: list[Row], width: int) -> str:
    """One line a kind of table, then the names that the tool knows."""
    from thermsim.case.finishes import finishes
    from thermsim.case.materials import library
    from thermsim.physics.losses import FITTING_K

    heads = [(f"[{row['table']}]", ("needed: " if row["needed"] else "") + row["about"])
             for row in known if row["table"].removesuffix(".NAME") == row["kind"]]  # fmt: skip
    indent = max(len(head) for head, _ in heads) + 2
    lines = [line for head, about in heads for line in hung(head.ljust(indent), about, width)]
    named = {"materials": library(), "finishes": finishes(), "fittings": FITTING_K}
    lists = [line for kind, names in named.items()
             for line in hung(f"{kind}: ", ", ".join(name.replace("-", " ") for name in names), width)]  # fmt: skip
    closing = "NAME is yours to choose. `thermsim keys part film` shows the keys of tables."
    return "\n".join([*lines, "", *lists, "", closing])


def table_text(row: Row, width: int) -> str:
    """A table's heading and a line for each key: how it is written, then what it means."""
    keys = row["keys"]
    first = max(len(key["key"]) for key in keys) + 4
    second = max(len(key["example"]) for key in keys) + 2
    lines = hung(f"[{row['table']}]  ", row["about"], width)
    for key in keys:
        lines += hung(f"  {key['key']}".ljust(first) + key["example"].ljust(second), key_words(key), width)
    return "\n".join(lines)


def key_words(key: Row) -> str:
    """What a key means, whether it is needed, its other choices and its default."""
    text = f"{'needed: ' if key['needed'] else ''}{key['meaning']}"
    if any(choice.strip('"') not in key["meaning"] for choice in key["choices"]):
        text += f"; or {', '.join(key['choices'][1:])}"
    return text if key["default"] is None else f"{text}; default {key['default']}"


def hung(head: str, text: str, width: int) -> list[str]:
    """Text after a head, wrapped under itself."""
    lines = wrap(text, max(width - len(head), 30)) or [""]
    return [(head if number == 0 else " " * len(head)) + line for number, line in enumerate(lines)]
