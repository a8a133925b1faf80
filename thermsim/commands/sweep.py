"""`thermsim sweep`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from thermsim.commands.shared import case_options, out_folder, progress, read_case, show
from thermsim.commands.where import where_options

if TYPE_CHECKING:
    from thermsim.studies.sweep.sampling import Method
    from thermsim.studies.where import Where


@click.command("sweep")
@case_options
@click.option("--option", "-p", metavar="NAME", help="The option to look at; none is the case itself.")
@click.option("-o", "out", metavar="DIR", type=click.Path(), help="Folder for the results.")
@click.option(
    "--of", metavar="ADDRESS", help="Follow this one input, such as part.fpga.watts; * in a name stands for any."
)
@click.option("--from", "start", metavar="VALUE", help='Where it begins, as in "8 W"; "80 %" is of the case\'s value.')
@click.option("--to", "stop", metavar="VALUE", help="Where it ends.")
@click.option("--steps", default=9, show_default=True, metavar="N", help="Values between, ends included.")
@click.option("--samples", type=click.IntRange(0), default=256, show_default=True, metavar="N",
              help="Samples of all that is not known well; 0 for none. Powers of two are best for sobol.")  # fmt: skip
@click.option("--seed", type=click.IntRange(0), default=0, show_default=True, help="Other samples for another number.")
@click.option("--method", type=click.Choice(["sobol", "latin"]), default="sobol", show_default=True,
              help="Scrambled Sobol points, or a Latin hypercube.")  # fmt: skip
@click.option("--check", type=click.IntRange(0), default=3, show_default=True, metavar="N",
              help="Samples at random that are settled in full as well.")  # fmt: skip
@where_options
@click.option("--figures/--no-figures", default=True, help="Draw the figures too.")
def command(
    case_path: str, changes: tuple[str, ...], as_json: bool, option: str | None, out: str | None, of: str | None,
    start: str | None, stop: str | None, steps: int, samples: int, seed: int, method: Method, check: int,
    where: Where, figures: bool,
) -> None:  # fmt: skip
    """Rank the inputs and sample them together, or follow one.

    Without --of: what each input of [uncertain] does to the worst part and the noise, and in which share of samples
    every limit and must-have holds. With --of: temperatures, margins and noise along one input, and where the first
    limit is crossed. Stores sweep.json and figures in outputs/CASE (or -o DIR).
    """
    if of is None and (start is not None or stop is not None):
        raise click.UsageError("--from and --to go with --of, the input they are about")
    if of is not None and (start is None or stop is None):
        raise click.UsageError(f'--of {of} needs --from and --to, such as --from "8 W" --to "20 W"')
    case = read_case(case_path, option, changes)
    from thermsim.report.sweep_figures import save_sweep
    from thermsim.report.sweep_text import sweep_text
    from thermsim.studies.sweep.one import read_line
    from thermsim.studies.sweep.study import follow, sweep

    folder = out_folder(out, case)
    line = None if of is None else read_line(case, of, start or "", stop or "", steps)
    with progress("steps" if line else "samples", as_json) as report:
        if line:
            facts = follow(case, folder, line, where, report)
        else:
            facts = sweep(case, folder, samples, seed, method, check, where, report)
    show(case, facts, folder, sweep_text, save_sweep if figures else None, as_json)
