"""Samples of a case settled one after another: in the fields that span them, and in full where those do not tell."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from time import process_time
from typing import Any

import numpy as np

from thermsim.case.case import Case
from thermsim.case.errors import CaseError
from thermsim.model.arrays import Floats
from thermsim.solve.factor import SolveFailed
from thermsim.solve.reduced.steadies import Steadies
from thermsim.studies.decide.states import steady_facts
from thermsim.studies.kept import Kept
from thermsim.studies.settled import Settled, Settler
from thermsim.studies.sweep.sampling import Draw, draws
from thermsim.studies.sweep.sensitivity import Sensitivities

Facts = dict[str, Any]
TOGETHER = 64  # samples that are kept together
LEARNT, LEARNT_SEED = 24, 20_000  # samples the fields learn from, besides the slopes
ENOUGH_CORRECTIONS = 2  # a state told with no more than these has nothing new to teach


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
    """The sampler of a case. The last one is kept in this process: pieces of one case follow each other."""
    key = hashlib.sha256(json.dumps([case.fingerprint(), _what_is_uncertain(case)]).encode()).hexdigest()
    if key not in _samplers:
        forget_samplers()
        _samplers[key] = Sampler(
            Sensitivities(Settler().settle(case), uncertain_inputs(case)), case.spec.run.tolerance
        )
    return _samplers[key]


def forget_samplers() -> None:
    """Free what `sampler_of` keeps."""
    _samplers.clear()


def _what_is_uncertain(case: Case) -> list[Facts]:
    """What a sampler learns from, besides the case."""
    return [one.facts() for one in uncertain_inputs(case)]


def settle_samples(case: Case, samples: Sequence[Draw]) -> Facts:
    """Facts of samples of a case, and the processor time they took."""
    sampler, began = sampler_of(case), process_time()
    return {"samples": [sampler.sample(changes) for changes in samples], "processor_s": process_time() - began}


def settle_all(
    case: Case, samples: Sequence[Draw], kept: Kept, where: Where = HERE, progress: Progress | None = None
) -> list[Facts]:
    """Facts of every sample; pieces kept before are taken as they are. `progress`: samples done, and all."""
    learnt = json.dumps([case.fingerprint(), _what_is_uncertain(case)])
    pieces, sizes = [], []
    for start in range(0, len(samples), TOGETHER):
        some = samples[start : start + TOGETHER]
        text = json.dumps([learnt, some], sort_keys=True)
        pieces.append(Piece(hashlib.sha256(text.encode()).hexdigest(), settle_samples, (case, some)))
        sizes.append(len(some))
def check_in_full(
    sampler: Sampler, samples: Sequence[Draw], told: Sequence[Facts], count: int, seed: int
) -> dict[str, Any]:
    """A random few samples settled in full: how far the temperatures of their parts are from those told."""
    chosen = [k for k in np.random.default_rng(seed).permutation(len(samples)).tolist() if "failed" not in told[k]]
    missed: list[float] = []
    for k in chosen[:count]:
        full = Settler().settle(sampler.found.settled.case.with_changes(samples[k]))
        parts: Floats = np.array([degc - told[k]["parts_degc"][name] for name, degc in full.parts.items()])
        missed.append(float(np.abs(parts).max(initial=0.0)))
    indicators = [facts["indicator_k"] for facts in told if facts.get("indicator_k") is not None]
    return {
        "count": len(missed),
        "largest_k": max(missed, default=0.0),
        "largest_indicator_k": max(indicators, default=0.0),
    }
