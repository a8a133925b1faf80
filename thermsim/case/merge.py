"""From a source to a checked `Spec`: option, changes, box, schema, then the checks between tables."""

from dataclasses import dataclass

from thermsim.case.box import write_out_box
from thermsim.case.checks import check, warn
from thermsim.case.errors import CaseError, Finding, Problem
from thermsim.case.options import Change, Draft, apply_changes, apply_option, option_chain
from thermsim.case.reading import Raw, Source
from thermsim.case.running import Option
from thermsim.case.schema import Spec
from thermsim.case.validate import as_plain, validate_table

MOST_OPTIONS = 500  # each is a case of its own to check


@dataclass(frozen=True)
class Merged:
    """A checked case, the raw tables it was read from, the mishaps that happen, and what to warn of."""

    spec: Spec
    raw: Raw
    mishaps: tuple[str, ...]
    warnings: tuple[Problem, ...]


def merge(source: Source, option: str | None, changes: tuple[Change, ...], mishaps: tuple[str, ...] | None) -> Merged:
    """Apply and check everything; `mishaps`, if given, are in place of the option's. Raises `CaseError`."""
    draft = Draft(source, as_plain(source.raw))
    _require_sound_options(draft)
    chain = option_chain(draft, option) if option is not None else []
    findings: list[Finding] = []
    for box in (True, False):  # what is said of the box comes first, for then the box is written out
        for name in chain:
            apply_option(draft, name, box=box)
        apply_changes(draft, changes, box=box)
        findings += write_out_box(draft) if box else []
    spec, wrong = validate_table(Spec, draft.raw)
    findings += wrong
    if spec is None or findings or draft.findings:
        raise CaseError(draft.problems(findings))
    happening = _happening(spec, chain) if mishaps is None else mishaps
    findings = check(spec, happening)
    if findings:
        raise CaseError(draft.problems(findings))
    return Merged(spec, draft.raw, happening, tuple(draft.problems(warn(spec))))


def _require_sound_options(draft: Draft) -> None:
    """Options are applied before the schema is, so their own tables come first."""
    options = draft.raw.get("option", {})
    if not isinstance(options, dict):
        raise CaseError(draft.problems([(("option",), "must be a table of named options")]))
    if len(options) > MOST_OPTIONS:
        raise CaseError(draft.problems([(("option",), f"has {len(options):,} options; {MOST_OPTIONS} are the most")]))
    findings: list[Finding] = []
    for name, option in options.items():
        findings += validate_table(Option, option, ("option", name))[1]
    if findings:
        raise CaseError(draft.problems(findings))


def _happening(spec: Spec, chain: list[str]) -> tuple[str, ...]:
    """Mishaps of an option and of those it is based on, each once."""
    return tuple(dict.fromkeys(name for option in chain for name in spec.option[option].mishaps))
