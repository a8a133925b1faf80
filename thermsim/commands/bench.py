"""`thermsim bench`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from thermsim.commands.shared import case_options, out_folder, print_json, progress, read_case, show, text_width

if TYPE_CHECKING:
    from thermsim.case import Case


@click.command("bench")
@case_options
@click.option("--before", multiple=True, type=click.Path(), metavar="CSV", help="Log of a run before; may be repeated.")
@click.option("--after", multiple=True, type=click.Path(), metavar="CSV", help="Log of a run after; may be repeated.")
@click.option("--option", "-p", "option", metavar="NAME", help="Option that stands on the bench after.")
@click.option("--window", metavar="TIME", help='At the end of a run, averaged over (default "10 min").')
@click.option("--moved", multiple=True, metavar="CHANNEL", help="Probe that did not stay in place; may be repeated.")
@click.option("--paired", is_flag=True, help="The first before belongs to the first after, and so on.")
@click.option("--same-watts", is_flag=True, help="Scale rises to the same supply watts.")
@click.option("--protocol", is_flag=True, help="Print what to do and to log before the test, and nothing else.")
@click.option("--resolve", metavar="K", help='With --protocol: the difference to be told, "0.5 K".')
@click.option("--model/--no-model", default=True, help="Run the model as each run was logged, and set it beside.")
@click.option("-o", "out", metavar="DIR", type=click.Path(), help="Folder for the results.")
@click.option("--figures/--no-figures", default=True, help="Draw the figures too.")
def command(
    case_path: str, changes: tuple[str, ...], as_json: bool, protocol: bool, resolve: str | None, model: bool,
    out: str | None, figures: bool, **given: Any,
) -> None:  # fmt: skip
    """Before and after on the bench: what changed, how sure that is, whether the model told the truth.

    The case's [bench.run.…] tables name the logs (or --before and --after do). Told are the rises over the room at the
    end of the runs, each change with its 95 % interval, warm-up, and the model beside, run as each log says. Without a
    run, or with --protocol, it prints a checklist made from the case: what to log, how long, how often. Stores
    bench.json and figures in outputs/CASE (or -o DIR). Exit status 2 where logs cannot be read or compared.
    """
    case = _with_flags(read_case(case_path, None, changes), given)
    if protocol or resolve is not None or not any(run.stands != "other" for run in case.spec.bench.run.values()):
        _print_protocol(case.with_option(given["option"]) if given["option"] else case, resolve, as_json)
        return
    from thermsim.bench.paired.study import bench
    from thermsim.report.bench_figures import save_bench
    from thermsim.report.bench_text import bench_text

    folder = out_folder(out, case)
    with progress("runs", as_json) as report:
        facts = bench(case, folder, model, report)
    show(case, facts, folder, bench_text, save_bench if figures else None, as_json)


def _with_flags(case: Case, given: dict[str, Any]) -> Case:
    """The case with the flags' settings; logs named by flags take the place of the case's own runs of that stand."""
    changes: dict[str, Any] = {}
    for stands in ("before", "after"):
        files: tuple[str, ...] = given[stands]
        if not files:
            continue
        old = [name for name, run in case.spec.bench.run.items() if run.stands == stands]
        changes |= {f'bench.run."{name}"': None for name in old}
        if case.spec.fit.hold_out.run in old:
            changes["fit.hold_out.run"] = None
        options = {case.spec.bench.run[name].option for name in old}
        option = (
            given["option"] if stands == "after" and given["option"] else options.pop() if len(options) == 1 else None
        )
        for number, file in enumerate(files, 1):
            table = {"file": str(Path(file).resolve()), "stands": stands, **({"option": option} if option else {})}
            changes[f'bench.run."{stands} {number}"'] = table
    if given["option"] and not given["after"]:
        after = [name for name, run in case.spec.bench.run.items() if run.stands == "after"]
        changes |= {f'bench.run."{name}".option': given["option"] for name in after}
    if given["window"] is not None:
        changes["bench.window"] = given["window"]
    if given["moved"]:
        changes["bench.moved"] = list(given["moved"])
    changes |= {f"bench.{key}": True for key in ("paired", "same_watts") if given[key]}
    return case.with_changes(changes) if changes else case


def _print_protocol(case: Case, resolve: str | None, as_json: bool) -> None:
    from thermsim.bench.protocol.study import protocol_of
    from thermsim.report.protocol_text import protocol_text

    facts = protocol_of(case, resolve)
    if as_json:
        print_json(facts)
    else:
        click.echo(protocol_text(facts, text_width()))
