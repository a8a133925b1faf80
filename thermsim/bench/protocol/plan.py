"""How long, how often and in what order to run."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, expm1, log, sqrt
from random import Random

from thermsim.bench.logs.runs import runs_of
from thermsim.bench.paired.record import Record, record_of
from thermsim.bench.protocol.stands import Stand
from thermsim.case.case import Case
from thermsim.case.errors import CaseError
from thermsim.solve.settle import CRITERIA

INTERVAL = 10.0  # s between stored readings; common practice, no source
CUSTOMARY = 3  # runs each; common practice, no source
MOST = 30  # runs each, beyond which better probes are cheaper
COLD = 0.2  # K over the room at which a box is cold; common practice, no source
LEFT = 3.0  # time constants after which 5 % is still to come
MINUTES = 300.0  # s, lengths are rounded up to these
SURE, SEEN = 0.975, 0.90  # of the interval, and how often a difference of that size is found significant


def run_length(stand: Stand, criterion: str) -> float:
    """How long (s) a run takes at the longest: three time constants, or until its hottest part meets a criterion."""
    longest = max(LEFT * stand.slowest, steady_by(_rise(stand), stand.slowest, criterion))
    return MINUTES * ceil(longest / MINUTES)


def steady_by(rise: float, tau: float, criterion: str) -> float:
    """When (s) a rise (K) of one time constant (s) meets a criterion: at the end of its window, or 0 if at once.

    A part that rises by no more and no slower never meets it later.
    """
    rule = CRITERIA[criterion]
    if rule.rate:
        return tau * log(max(rise * rule.window / (tau * rule.change), 1.0))
    return rule.window + tau * log(max(-rise * expm1(-rule.window / tau) / rule.change, 1.0))


def cold_soak(stand: Stand) -> float:
    """How long (s) to stand without watts, fans and pump as in the run, until it is as cold as the room."""
    return MINUTES * ceil(stand.slowest * log(max(_rise(stand) / COLD, 1.0)) / MINUTES)


def _rise(stand: Stand) -> float:
    room = stand.case.spec.room.temperature
    return max([abs(degc - room) for degc in stand.settled.parts.values()], default=1.0)


def repeatability(case: Case) -> tuple[float, int]:
    """Standard deviation (K) of the same rise from run to run, and its degrees of freedom.

    Pooled over parts and stands from the case's own runs; where no stand was run twice what `[bench]` assumes, and 0.
    """
    groups: dict[tuple[str, str | None], list[str]] = {}
    runs = {run.name: run for run in runs_of(case) if run.path.exists() and run.stands != "other"}
    for run in runs.values():
        groups.setdefault((run.stands, run.option), []).append(run.name)
    squares, free, freedom = 0.0, 0, 0
    for names in groups.values():
        if len(names) < 2:
            continue
        try:
            records = [record_of(n, runs[n].stands, runs[n].option, runs[n].log, case.spec.bench.window) for n in names]
        except (CaseError, ValueError):  # `thermsim bench` tells what is wrong with a log
            continue
        freedom += len(names) - 1
        for part in case.spec.part:
            rises = [rise for record in records if (rise := _last_rise(record, f"part.{part}")) is not None]
            if len(rises) > 1:
                mean = sum(rises) / len(rises)
                squares, free = squares + sum((rise - mean) ** 2 for rise in rises), free + len(rises) - 1
    return (sqrt(squares / free), freedom) if free else (case.spec.bench.repeatability, 0)


def _last_rise(record: Record, channel: str) -> float | None:
    """Mean rise over the last minutes of a run, K."""
    if channel not in record.log.readings:
        return None
    time, values = record.known(channel)
    late = values[time > record.span - record.window]
    return float(late.mean()) if late.size else None


def resolved_by(count: int, scatter: float) -> float:
    """Difference of two means of `count` runs each that is found significant nine times in ten, K.

    NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.2.2, with Student's t for both quantiles; 95 % two-sided. One
    degree of freedom goes to the doubt whether both scatter alike (simulated; at two runs each it costs less).
    """
    from scipy.special import stdtrit

    freedom = 2 * count - 3
    return float((stdtrit(freedom, SURE) + stdtrit(freedom, SEEN)) * scatter * sqrt(2.0 / count))


def repeats_for(difference: float, scatter: float) -> int | None:
    """Runs each, two at least, that resolve a difference (K); None if that takes more than are worth it."""
    return next((count for count in range(2, MOST + 1) if resolved_by(count, scatter) <= difference), None)


def order_of(stands: Sequence[str], count: int, seed: int | None) -> list[str]:
    """Which stand each run is of; shuffled, unless `seed` is None, so that slow drifts fall on both alike."""
    found = [name for name in stands for _ in range(count)]
    if seed is not None:
        Random(seed).shuffle(found)
    return found
