"""`thermsim example`."""

from __future__ import annotations

import shutil
from importlib.metadata import PackageNotFoundError, files
from pathlib import Path

import click

import thermsim
from thermsim.case.errors import nearest

COPIED = ("case.toml", "README.md", "bench/*.csv")


@click.command("example")
@click.argument("name", required=False)
@click.argument("folder", required=False, type=click.Path(path_type=Path))
def command(name: str | None, folder: Path | None) -> None:
    """Copy a demo case into a folder of your own, to run and to change.

    Without NAME, lists them. FOLDER defaults to NAME; one that exists is left alone. The data of the demo cases
    are invented.
    """
    shipped = demo_cases()
    if name is None:
        for case in shipped.values():
            click.echo(f"{case.name:12} {_title(case)}")
        return
    if name not in shipped:
        hint = nearest(name, shipped) or f"; there are {', '.join(shipped)}"
        raise click.UsageError(f'there is no demo case "{name}"{hint}')
    target = folder or Path(name)
    if target.exists():
        raise click.UsageError(f"{target}: exists already; name another folder")
    for pattern in COPIED:
        for source in sorted(shipped[name].glob(pattern)):
            place = target / source.relative_to(shipped[name])
            place.parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(source, place)
    click.echo(f"Copied to {target}; its data are invented. Next: thermsim compare {target}")


def demo_cases() -> dict[str, Path]:
    """Folders of the demo cases by name: beside the package in a checkout, or where the wheel put them."""
    beside = Path(thermsim.__file__).resolve().parents[1] / "cases"
    found = list(beside.glob("*/case.toml"))
    if not found:
        try:
            installed = files("thermsim") or []
        except PackageNotFoundError:
            installed = []
        found = [Path(str(file.locate())) for file in installed if file.match("thermsim/cases/*/case.toml")]
    return {path.parent.name: path.parent.resolve() for path in sorted(found)}


def _title(case: Path) -> str:
    from thermsim.case import load_case

    return load_case(case).title
