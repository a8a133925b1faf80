"""Folders of studies in which one file is damaged: passed over, so that the next call's answer is the sound one."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from random import Random
from typing import Any

from tests.faults.calls import largest_difference, without_clocks
from tests.hostile import results, words
from tests.hostile.asks import HERE
from tests.hostile.calls import STUDY_S, Outcome, call
from tests.hostile.quick_case import quick_tables
from tests.hostile.toml_text import toml_text

STUDIES = {
    "compare": ["-p", "base", "-p", "pipes", "--draws", "4"],
    "chill": [],
    "place": [],
    "mishap": ["-p", "base", "-m", "fan_stops"],
    "sweep": ["--samples", "4", "--check", "0"],
    "pipes": [],
}


class StudyFolder:
    """A case and its studies, made once, and what they told."""

    def __init__(self, folder: Path, out: Path) -> None:
        """`out`: a folder that calls may write to."""
        self.case, self.sound, self.out = folder / "kept.toml", folder / "studies", out
        folder.mkdir(exist_ok=True)
        self.case.write_text(toml_text(quick_tables()), encoding="utf-8")
        for study in STUDIES:
            outcome = self.ask(study)
            assert outcome.ended == "done", outcome
        shutil.copytree(self._folder, self.sound)
        self.told = {study: self._facts(study) for study in STUDIES}

    @property
    def _folder(self) -> Path:
        return self.out / "studies"

    def ask(self, study: str) -> Outcome:
        """Call a study into the folder that may be written to."""
        where = [str(self.case), "-o", str(self._folder)]
        return call([study, *where, *STUDIES[study], *HERE], self.out, STUDY_S)

    def show(self) -> Outcome:
        """Make the page of what is stored there."""
        return call(["report", str(self.case), "-o", str(self._folder), "--stored", "--json"], self.out, STUDY_S)

    def begin(self) -> Path:
        """The sound folder, put where it may be written to."""
        return Path(shutil.copytree(self.sound, self._folder))

    def _facts(self, study: str) -> Any:
        return without_clocks(json.loads((self._folder / f"{study}.json").read_text(encoding="utf-8")))

    def damaged(self, random: Random, secret: Path) -> Outcome:
        """Damage one file, and call the study that it belongs to again."""
        path = random.choice(sorted(one for one in self.begin().rglob("*") if one.is_file()))
        study = path.name.split(".")[0]
        study = study if study in STUDIES else "compare"
        damage(random, path, secret)
        return self.called_again(study, path.name, random.random() < 0.5)

    def called_again(self, study: str, damaged: str, shown_first: bool) -> Outcome:
        """The page of what is left, if asked for, then the study again: the answer must be the sound one."""
        if shown_first:
            shown = self.show()
            if shown.fault is None and shown.ended == "done":
                shown = self._compared_answers(shown)
            if shown.fault:
                return shown
        outcome = self.ask(study)
        if outcome.fault or outcome.ended != "done":
            return outcome
        try:
            off, where = largest_difference(self.told[study], self._facts(study))
        except (AssertionError, ValueError, OSError) as error:
            off, where = float("inf"), str(error)[:300]
        if off:
            return Outcome("done", f"another answer: {study} after {damaged}: {where}, by {off:g}", outcome.told)
        return outcome

    def _compared_answers(self, shown: Outcome) -> Outcome:
        for study, lines in json.loads(shown.said)["answers"].items():
            if lines != self.told[study]["answer"]:
                return Outcome("done", f"another answer on the page: {study}", "\n".join(map(str, lines)))
        return shown


def damage(random: Random, path: Path, secret: Path) -> None:
    """Change one file, or put something else in its place."""
    if random.random() < 0.1:
        path.unlink()
        way = random.randrange(4)
        if way == 0:
            path.mkdir()
        elif way == 1:
            path.symlink_to(secret)
        elif way == 2:
            path.write_bytes(b"")
        return
    if path.suffix == ".h5":
        results.hostile_result(random, _copy(path), path, secret)
        return
    data = path.read_bytes()
    if random.random() < 0.35:
        path.write_bytes(words.noise(random, data))
        return
    text = data.decode()
    text = _lines(random, text) if path.suffix == ".jsonl" and random.random() < 0.6 else _values(random, text)
    path.write_bytes(text.encode("utf-8", "surrogatepass"))


def _copy(path: Path) -> Path:
    kept = path.parent.parent.parent / f"{path.name}.sound"
    shutil.copy(path, kept)
    return kept


def _lines(random: Random, text: str) -> str:
    """Lines doubled, swapped, cut, joined, in another order, or of another version."""
    lines = text.splitlines()
    at, other = random.randrange(len(lines)), random.randrange(len(lines))
    ways: tuple[Callable[[], list[str]], ...] = (
        lambda: [*lines, lines[at]],
        lambda: lines[:at] + lines[at + 1 :],
        lambda: lines[::-1],
        lambda: [*lines[:at], lines[at][: words.below(random, len(lines[at]))]],
        lambda: [*lines[:at], lines[at] + lines[other], *lines[at + 1 :]],
        lambda: [one.replace('"version": "', '"version": "9') for one in lines],
        lambda: [*lines, random.choice(("[" * 100_000, "{}", "null", "1e999", '"x"', "9" * 5000, "[1, 2]"))],
        lambda: [*lines[:at], _facts_of_another(lines[at], lines[other]), *lines[at + 1 :]],
    )
    return "\n".join(random.choice(ways)()) + random.choice(("\n", "", "\r\n", "\n\n\x00\n"))


def _facts_of_another(line: str, other: str) -> str:
    return json.dumps(json.loads(line) | {"facts": json.loads(other)["facts"]})


def _values(random: Random, text: str) -> str:
    """A value within the JSON of a file, or of one of its lines, changed a little or by anything."""
    lines = text.splitlines() if text.count("\n{") else [text]
    at = random.randrange(len(lines))
    facts = json.loads(lines[at])
    owner, key = _somewhere(random, facts)
    way = random.randrange(6)
    if way < 2 and isinstance(owner[key], float | int):
        owner[key] *= random.choice((0, -1, 1.01, 2, 10.0**9))
    elif way == 2:
        del owner[key]
    elif way == 3 and "stamp" in facts:
        facts["stamp"][random.choice(list(facts["stamp"]))] = random.choice(("9.9.9", "", None, 3, "0" * 64))
    elif way == 4 and isinstance(owner, dict):
        owner[random.choice(words.TEXTS[:60])] = words.value(random)
    else:
        owner[key] = words.value(random)
    lines[at] = json.dumps(facts)
    return "\n".join(lines)


def _somewhere(random: Random, facts: Any) -> tuple[Any, Any]:
    owner = facts
    while True:
        key = random.choice(list(owner) if isinstance(owner, dict) else range(len(owner)))
        if not isinstance(owner[key], dict | list) or not owner[key] or random.random() < 0.2:
            return owner, key
        owner = owner[key]
