"""Samples of a case settled one after another: in the fields that span them, and in full where those do not tell."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from time import perf_counter, process_time
from typing import Any

import numpy as np

from thermsim.case.case import Case, digest_of
from thermsim.case.errors import CaseError
from thermsim.solve.factor import SolveFailed
from thermsim.solve.reduced.steadies import Steadies
from thermsim.studies.decide.states import steady_facts
from thermsim.studies.kept import Kept
from thermsim.studies.settled import Settled, Settler
from thermsim.studies.sweep.sampling import Draw, draws, uncertain_inputs
from thermsim.studies.sweep.sensitivity import Sensitivities
from thermsim.studies.turns import states_of, turn
from thermsim.studies.where import IN_THIS_PROCESS, Where
from thermsim.studies.workers import START_S, Piece, Progress, alone, work

Facts = dict[str, Any]
TOGETHER = 64  # samples that are kept together
LEARNT, LEARNT_SEED = 24, 20_000  # samples the fields learn from, besides the slopes
ENOUGH_CORRECTIONS = 2  # a state told with no more than these has nothing new to teach
_samplers: dict[str, Sampler] = {}


@dataclass
class Sampler:
    """Settles samples of a case. What it learns does not depend on which samples it is then asked for."""

    found: Sensitivities
    tolerance: float
    learning_s: float = field(default=0.0, init=False)  # processor time

    @cached_property
    def steadies(self) -> Steadies:
        """The fields, with what a few samples of their own taught."""
        began = process_time()
        case = self.found.settled.case
        steadies = Steadies(self.found.linear, self.found.fields(), self.tolerance)
        for changes in draws(case, LEARNT, LEARNT_SEED, "latin"):
            try:
                changed = case.with_changes(changes)
                told = steadies.settle(changed)
                if told is None:
                    steadies.learn(self._settler.settle(changed).steady.temperature)
                elif told.corrections > ENOUGH_CORRECTIONS:
                    steadies.learn(told.steady.temperature)
            except (SolveFailed, CaseError, ValueError):  # a sample that cannot be teaches nothing
                continue
        self.learning_s = process_time() - began
        return steadies

    @cached_property
    def _settler(self) -> Settler:
        return Settler()

    def sample(self, changes: Draw) -> Facts:
        """What a sample settles at; `indicator_k`: None where it was settled in full; "failed": and why."""
        try:
            case = self.found.settled.case.with_changes(changes)
            told = self.steadies.settle(case)
            if told is not None:
                return sample_facts(Settled(told.model, told.steady)) | {"indicator_k": told.indicator}
            # each from the same start, so that it does not matter which went before
            return sample_facts(Settler().settle(case)) | {"indicator_k": None}
        except (SolveFailed, CaseError) as error:
            return {"failed": str(error)}


def sample_facts(settled: Settled) -> Facts:
    """What must-haves ask of a sample, and its speeds and flows."""
    worst = settled.worst
    return steady_facts(settled) | {
        "worst_part": worst[0] if worst else None,
        "worst_margin_k": worst[1] if worst else None,
        "speeds": settled.speeds,
        "air_m3_per_h": {name: 3600 * flow for name, flow in settled.air_flows.items()},
        "coolant_l_per_min": {name: 6e4 * flow for name, flow in settled.coolant_flows.items()},
    }


def sampler_of(case: Case) -> Sampler:
    """The sampler of a case. The last one stays in this process, for pieces of one case follow each other."""
    key = what_is_sampled(case)
    if key not in _samplers:
        forget_samplers()
        found = Sensitivities(Settler().settle(case), uncertain_inputs(case))
        _samplers[key] = Sampler(found, case.spec.run.tolerance)
    return _samplers[key]


def forget_samplers() -> None:
    """Free what `sampler_of` holds."""
    _samplers.clear()


def what_is_sampled(case: Case) -> str:
    """Digest of all that a sampler is made from."""
    return digest_of([case.content(), [one.facts() for one in uncertain_inputs(case)]])


def learn(case: Case) -> float:
    """Make a case's sampler and let it learn; the seconds that takes wherever pieces of its samples are settled."""
    began = perf_counter()
    sampler_of(case).steadies  # noqa: B018  # worked out on first use
    return perf_counter() - began


def settle_samples(case: Case, samples: Sequence[Draw]) -> Facts:
    """Facts of samples of a case, and the processor time they took."""
    began, sampler = process_time(), sampler_of(case)
    told = [sampler.sample(changes) for changes in samples]
    return {"samples": told, "processor_s": process_time() - began}


def settle_all(
    case: Case, samples: Sequence[Draw], kept: Kept, where: Where = IN_THIS_PROCESS, progress: Progress | None = None
) -> list[Facts]:
    """Facts of every sample; pieces kept before are taken as they are. `progress`: pieces done, and all."""
    given = what_is_sampled(case)
    batches = [samples[start : start + TOGETHER] for start in range(0, len(samples), TOGETHER)]
    pieces = [Piece(digest_of([given, some]), settle_samples, (case, some)) for some in batches]
    start_s = START_S
    if where.executor is None and not all(kept.has(piece.key) for piece in pieces):
        start_s += alone(learn, (case,))
    done = work(pieces, kept, where, progress, start_s)
    return [
        sample | {"processor_s": facts["processor_s"] / len(some)}
        for some, facts in zip(batches, done, strict=True)
        for sample in facts.get("samples", ())  # of a shard, others' may not be there
    ]


def check_in_full(
    case: Case,
    samples: Sequence[Draw],
    told: Sequence[Facts],
    count: int,
    seed: int,
    kept: Kept,
    where: Where = IN_THIS_PROCESS,
) -> dict[str, Any]:
    """A random few samples settled in full: how far the temperatures of their parts are from those told."""
    order = np.random.default_rng(seed).permutation(len(samples)).tolist()
    chosen = [k for k in order if "failed" not in told[k]][:count]
    full = states_of(
        work([turn([case.with_changes(samples[k])], sample_facts) for k in chosen], kept, where, None, START_S)
    )
    missed = [
        max((abs(degc - told[k]["parts_degc"][name]) for name, degc in state["parts_degc"].items()), default=0.0)
        for k, state in zip(chosen, full, strict=True)
    ]
    indicators = [facts["indicator_k"] for facts in told if facts.get("indicator_k") is not None]
    return {
        "count": len(missed),
        "largest_k": max(missed, default=0.0),
        "largest_indicator_k": max(indicators, default=0.0),
    }
