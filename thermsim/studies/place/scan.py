"""Every spot of one plate at once: a small dense system a spot, its unknowns the heat through each joint.

With q the heat (W) from box to loop through each link, G the responses of both sides to heat at their ports and g the
links' conductances: (1/g + a G_box aᵀ + b G_loop bᵀ) q = a T_box − b T_loop, the temperatures being those with no link.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from thermsim.case.schema import Spec
from thermsim.model.arrays import Floats, Ints
from thermsim.studies.place.box import BoxSide
from thermsim.studies.place.links import Facing, Link, Links, links_of, padded
from thermsim.studies.place.loop import LoopSide
from thermsim.studies.place.rules import Verdict

CHUNK = 256  # spots at once
EQUAL = 0.1  # K, margins that differ by less are taken as equal


@dataclass(frozen=True)
class Scan:
    """What every spot gives: part temperatures (spots, parts), the plate's mean, heat taken at the box's ports."""

    parts: Floats
    plate_mean: Floats
    taken: Floats
    into_loop: Floats

    def margins(self, limits: Floats) -> Floats:
        """Smallest margin of each spot, K, over all parts with a limit (others infinite)."""
        found: Floats = (limits - self.parts).min(axis=1)
        return found


def limits_of(spec: Spec, on: str | None = None) -> Floats:
    """Limit of every part (only of those on a sheet), °C, infinite where it has none; shape (parts,)."""
    told = [part.limit if on in (None, part.on) else None for part in spec.part.values()]
    return np.array([np.inf if limit is None else limit for limit in told])


def ranked(margins: Floats, own: Floats) -> Ints:
    """Numbers of spots, best first: by the worst margin, K; those that come as near to the best one as `EQUAL` by
    the margin of the parts on the plate's own sheet, for a part far from it would otherwise choose at random.
    """
    equal = margins > margins.max(initial=-np.inf) - EQUAL
    found: Ints = np.lexsort((-margins, np.where(equal, -own, 0.0), ~equal))
    return found


@dataclass(frozen=True)
class Between:
    """The loop at two flows; a spot's own lies between."""

    low: LoopSide
    high: LoopSide

    def share(self, flows: Floats) -> Floats:
        """How far each flow is from the low one to the high one."""
        span = self.high.flow - self.low.flow
        return (flows - self.low.flow) / span if span > 0 else np.zeros_like(flows)


def scan(
    verdicts: Sequence[Verdict], flows: Floats, plate: str, box: BoxSide, loops: Between, faces: Sequence[Facing],
    more: Sequence[Link] = (),
) -> Scan:  # fmt: skip
    """Settle every spot; `flows` (m³/s) of each, `more`: links that are the same at every spot."""
    pieces = []
    for start in range(0, len(verdicts), CHUNK):
        some = verdicts[start : start + CHUNK]
        links = padded([[*links_of(one, plate, box, loops.low, faces), *more] for one in some])
        pieces.append(_settle(links, loops.share(flows[start : start + CHUNK]), plate, box, loops))
    return Scan(*(np.concatenate(column) for column in zip(*pieces, strict=True)))


def _settle(links: Links, share: Floats, plate: str, box: BoxSide, loops: Between) -> tuple[Floats, ...]:
    system = felt_through(links.box, box.response) @ links.box.transpose(0, 2, 1)
    wanted = links.box @ box.bare
    shares: list[tuple[LoopSide, Floats]] = [(loops.low, 1 - share)]
    if loops.high is not loops.low:
        shares.append((loops.high, share))
    for loop, part in shares:
        system += part[:, None, None] * (felt_through(links.loop, loop.response) @ links.loop.transpose(0, 2, 1))
        wanted -= part[:, None] * (links.loop @ loop.bare)
    heat = _solve(system, links.conductance, wanted)
    taken: Floats = np.einsum("nk,nkp->np", heat, links.box)
    put: Floats = np.einsum("nk,nkp->np", heat, links.loop)
    ports = box.bare - taken @ box.response.T
    means = [part * _plate_mean(loop, plate, put) for loop, part in shares]
    return ports[:, : len(box.parts)], np.asarray(sum(means)), taken, put


def _solve(system: Floats, conductance: Floats, wanted: Floats) -> Floats:
    """Heat through every link; one of no conductance carries none."""
    found = np.linalg.solve(system + resistances(conductance), wanted[:, :, None])
    return np.asarray(found[:, :, 0], dtype=float)


def felt_through(shares: Floats, response: Floats) -> Floats:
    """What each link feels of a watt at every port, K/W, shape (spots, links, ports): all as one product."""
    spots, links, ports = shares.shape
    found: Floats = (shares.reshape(-1, ports) @ response).reshape(spots, links, -1)
    return found


def resistances(conductance: Floats) -> Floats:
    """1/g on the diagonals, 1 where there is no link, shape (spots, links, links)."""
    count = conductance.shape[1]
    found = np.zeros((conductance.shape[0], count, count))
    with np.errstate(divide="ignore"):
        found[:, range(count), range(count)] = np.where(conductance > 0, 1 / conductance, 1.0)
    return found


def _plate_mean(loop: LoopSide, plate: str, put: Floats) -> Floats:
    where, cells = loop.plates[plate]
    share = cells.area.ravel() / cells.area.sum()
    mean: Floats = share @ loop.bare[where] + put @ (share @ loop.response[where])
    return mean
