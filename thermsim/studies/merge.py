"""Folders of shards that worked on machines without a disk in common, brought together in one."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from math import isclose
from pathlib import Path
from typing import Any

from thermsim.store.result import read_result, read_stamp
from thermsim.store.whole import write_json, write_whole
from thermsim.studies.kept import Facts, Kept, whole_lines

RESULT = "result.h5"
KEPT_NAME = re.compile(r"([a-z]+)\.kept(\.\d+-of-\d+)?\.jsonl")
TIMINGS = ("seconds", "processor_s")
SAME_RELATIVE, SAME = 1e-3, 0.01  # what another machine's rounding may move a settled state by


class MergeError(ValueError):
    """Folders that do not go together; the message names what is in the way."""

    exit_status = 2


@dataclass
class Found:
    """What is whole: results by folder, and kept facts by folder and study, each with where it is from."""

    results: dict[Path, Path] = field(default_factory=dict)
    kept: dict[tuple[Path, str], dict[str, tuple[Facts, Path]]] = field(default_factory=dict)
    passed_over: list[Path] = field(default_factory=list)


def merge(folders: Sequence[str | Path], out: str | Path) -> Facts:
    """Bring whole results and kept pieces of work of some folders into `out`; returns how many of what.

    What is unfinished, or kept by another version, is passed over. Raises `MergeError`, with nothing written, where
    two folders hold different things under one name, or one of them holds nothing.
    """
    out, found = Path(out), Found()
    for folder in dict.fromkeys(Path(one) for one in folders):
        if not folder.is_dir():
            raise MergeError(f"{folder}: there is no such folder")
        if folder.resolve() in out.resolve().parents:
            raise MergeError(f"{out} lies in {folder}, of which it would hold a copy; choose another folder with -o")
        if not _take(folder, found):
            raise MergeError(f"{folder}: holds no finished result and nothing kept by this version of thermsim")
    there = Found()
    if out.is_dir():
        _take(out, there)
    new_results = {
        place: path for place, path in found.results.items() if not _is_there(path, there.results.get(place))
    }
    new_kept = {
        place: {
            key: facts for key, (facts, path) in lines.items() if not _is_known(key, facts, path, there.kept.get(place))
        }
        for place, lines in found.kept.items()
    }
    for place, path in new_results.items():
        write_json(out / place / "summary.json", read_result(path).summary)
        write_whole(out / place / RESULT, path.read_bytes())
    for (place, study), lines in new_kept.items():
        with Kept.of(out / place, study) as kept:
            for key, facts in lines.items():
                kept.put(key, facts)
    return {
        "results": len(new_results),
        "results_there": len(found.results) - len(new_results),
        "pieces": sum(map(len, new_kept.values())),
        "pieces_there": sum(map(len, found.kept.values())) - sum(map(len, new_kept.values())),
        "passed_over": [str(path) for path in found.passed_over],
    }


def _take(folder: Path, found: Found) -> int:
    """Add what a folder holds; how much that is, known or not. Raises `MergeError` where what is known differs."""
    whole = 0
    for path in sorted(folder.rglob(f"{RESULT}*")):
        if path.name not in (RESULT, f"{RESULT}.part"):
            continue
        place = path.parent.relative_to(folder)
        if path.name != RESULT or read_stamp(path) is None:
            found.passed_over.append(path)
            continue
        whole += 1
        if not _is_there(path, found.results.get(place)):
            found.results[place] = path
    for path, study in _kept_files(folder):
        lines = found.kept.setdefault((path.parent.relative_to(folder), study), {})
        whole += path.stat().st_size == 0  # of a shard to which no piece fell
        for key, facts in whole_lines(path).items():
            whole += 1
            if not _is_known(key, facts, path, lines):
                lines[key] = facts, path
    return whole


def _kept_files(folder: Path) -> Iterator[tuple[Path, str]]:
    for path in sorted(folder.rglob("*.jsonl")):
        named = KEPT_NAME.fullmatch(path.name)
        if named:
            yield path, named[1]


def _is_there(path: Path, other: Path | None) -> bool:
    """Whether a result is there; raises `MergeError` if another is."""
    if other is not None and read_stamp(path) != read_stamp(other):
        raise MergeError(f"{path} and {other} are of different cases, versions or engines; keep them apart")
    return other is not None


def _is_known(key: str, facts: Facts, path: Path, lines: dict[str, tuple[Facts, Path]] | None) -> bool:
    """Whether facts are known under a key; raises `MergeError` if others are."""
    if lines is None or key not in lines:
        return False
    known, other = lines[key]
    if not _alike(facts, known):
        raise MergeError(f"{path} and {other} tell different things of the same piece of work ({key[:12]}…)")
    return True


def _alike(one: Any, other: Any) -> bool:
    """Whether facts are the same but for times taken and rounding."""
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(_alike(one[key], other[key]) for key in one if key not in TIMINGS)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(_alike, one, other))
    if isinstance(one, float) and isinstance(other, float):
        return isclose(one, other, rel_tol=SAME_RELATIVE, abs_tol=SAME)
    return bool(one == other)
