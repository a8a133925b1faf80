"""`thermsim check`."""

from __future__ import annotations

import click

from thermsim.case import CaseError, check_all_options
from thermsim.commands.shared import case_options, print_json, read_case


@click.command("check")
@case_options
@click.option("--option", "-p", "option", metavar="NAME", help='Option to estimate for ("base" is the case itself).')
def command(case_path: str, changes: tuple[str, ...], as_json: bool, option: str | None) -> None:
    """Validate a case and all its options; print the watts ledger and hand estimates beside the model."""
    case = read_case(case_path, option, changes)
    problems = check_all_options(case)
    if problems:
        raise CaseError(problems)
    from thermsim.report.check_text import check_text
    from thermsim.studies.byhand import examine

    facts = examine(case)
    if as_json:
        print_json(facts)
        return
    click.echo(check_text(facts))
    if case.options:
        click.echo(f"\noptions, nothing wrong in them: {'; '.join(case.options)}")
