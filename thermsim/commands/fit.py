"""`thermsim fit`."""

from __future__ import annotations

import click

from thermsim.commands.shared import case_options, out_folder, print_json, progress, read_case, text_width


@click.command("fit")
@case_options
@click.option("--hold-out", "hold_out", metavar="NAME", multiple=True,
              help='A run or a temperature channel that the fit does not see, or "none". May be repeated.')  # fmt: skip
@click.option("--unknown", "unknowns", metavar="NAME", multiple=True,
              help="Match this: a name of [uncertain] or an address. May be repeated.")  # fmt: skip
@click.option("--also-watts", is_flag=True, help="Match watts too, where a group of [uncertain] moves them.")
@click.option("--write", is_flag=True, help="Put the matched options at the end of the case file.")
@click.option("-o", "out", metavar="DIR", type=click.Path(), help="Folder for the results.")
@click.option("--figures/--no-figures", default=True, help="Draw the figures too.")
def command(
    case_path: str, changes: tuple[str, ...], as_json: bool, hold_out: tuple[str, ...], unknowns: tuple[str, ...],
    also_watts: bool, write: bool, out: str | None, figures: bool,
) -> None:  # fmt: skip
    """Match a case to its runs on the bench.

    Finds joints, films and losses from the whole transients of all logged runs ([bench.run.NAME] tables), with their
    standard errors, and tells whether the result holds for a run and a probe that it did not see. Settings may stand
    in the case's [fit] table. Stores fit.json, figures and fitted.toml, the matched options as text for the case
    file, in outputs/CASE (or -o DIR); --write puts them into the case file itself.
    """
    case = read_case(case_path, None, changes)
    settings: dict[str, object] = {"fit.unknowns": list(unknowns)} if unknowns else {}
    if unknowns:  # bounds in the case are of its own unknowns
        settings |= {f'fit.bound."{name}"': None for name in case.spec.fit.bound if name not in unknowns}
    for name in hold_out:
        if name == "none":
            settings |= {"fit.hold_out.run": name, "fit.hold_out.probe": name}
        else:
            settings[f"fit.hold_out.{'run' if name in case.spec.bench.run or '.' not in name else 'probe'}"] = name
    case = case.with_changes(settings)
    from thermsim.bench.fit.study import fit
    from thermsim.report.fit_text import fit_text

    folder = out_folder(out, case)
    with progress("histories", as_json) as report:
        facts = fit(case, folder, None, also_watts, report)
    if write:
        from thermsim.bench.fit.written import write_into

        write_into(case, facts["toml"], facts["fitted_options"])
    if figures:
        from thermsim.report.fit_figures import save_fit
        from thermsim.report.page.write import write_case_page

        save_fit(facts, folder)
        write_case_page(case, folder)
    if as_json:
        print_json(facts)
        return
    click.echo(fit_text(facts, text_width()))
    where = f"written to {case_path}" if write else "in fitted.toml; --write puts them into the case file"
    click.echo(f"\nStored in {folder}{' with figures' if figures else ''}; the matched options are {where}.")
