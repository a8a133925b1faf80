"""Pressures of a coolant loop: each element's drop, branches side by side, and where the pump settles."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from math import hypot, pi
from typing import NamedTuple

from scipy.optimize import brentq

from thermsim.case.flow import Block, Drop, Hose, Loop, Radiator
from thermsim.case.schema import Spec
from thermsim.case.solid import Plate
from thermsim.physics.coolants import Coolant, LiquidState, coolant
from thermsim.physics.curves import PressureCurve, meeting_flow
from thermsim.physics.ducts import Duct, pressure_drop, rectangular_duct, reynolds, round_duct
from thermsim.physics.losses import FITTING_K, minor_loss_pressure, sudden_contraction, sudden_expansion

Series = tuple["str | Branches", ...]  # elements by address, in flow order
KNOT = 1.0  # K between the coolant temperatures at which the pump's point is solved; linear in between
NOTCH = 1 / 64  # of rated speed, likewise


@dataclass(frozen=True)
class Branches:
    """Series side by side."""

    ways: tuple[Series, ...]


def read_path(path: Sequence[object]) -> Series:
    """The loop's path as written: a list within the list is branches, each an address or a list."""

    def element(item: object) -> str | Branches:
        if isinstance(item, str):
            return item
        assert isinstance(item, Sequence)
        return Branches(tuple(read_path((way,) if isinstance(way, str) else way) for way in item))

    return tuple(element(item) for item in path)


def elements(series: Series) -> list[str]:
    """All addresses of a path, in order."""
    found: list[str] = []
    for item in series:
        if isinstance(item, str):
            found.append(item)
        else:
            for way in item.ways:
                found += elements(way)
    return found


def passable(series: Series, closed: frozenset[str]) -> bool:
    """Whether anything flows along a series: none of its elements is closed, nor all ways of any branches."""
    return all(
        item not in closed if isinstance(item, str) else any(passable(way, closed) for way in item.ways)
        for item in series
    )


class Drops(NamedTuple):
    """An element's pressure drop in its shares, Pa: friction, bends and fittings, changes of bore, as measured."""

    friction: float
    fittings: float
    steps: float
    measured: float


@dataclass(frozen=True)
class Passage:
    """One element's hydraulics: a duct with length and losses (several alike side by side), or a measured drop.

    `loss_coefficient` and `step_loss` (of where the bore changes to a neighbour's) are on the duct's own velocity.
    """

    duct: Duct | None
    length: float
    loss_coefficient: float
    roughness: float
    measured: tuple[float, float, float] | None  # Pa at m³/s, exponent
    count: int = 1  # of ducts that share the flow evenly
    step_loss: float = 0.0

    def drop(self, flow: float, liquid: LiquidState) -> float:
        """Pressure drop, Pa."""
        return sum(self.drops(flow, liquid))

    def drops(self, flow: float, liquid: LiquidState) -> Drops:
        """The same in its shares."""
        friction = fittings = steps = measured = 0.0
        if self.duct is not None:
            each, duct, density = flow / self.count, self.duct, liquid.density
            friction = pressure_drop(duct, self.length, each, density, liquid.viscosity, self.roughness)
            fittings = minor_loss_pressure(self.loss_coefficient, each, duct.area, density)
            steps = minor_loss_pressure(self.step_loss, each, duct.area, density)
        if self.measured is not None:
            pressure, at, exponent = self.measured
            measured = pressure * (flow / at) ** exponent
        return Drops(friction, fittings, steps, measured)

    def reynolds(self, flow: float, liquid: LiquidState) -> float | None:
        """Reynolds number, None where no duct is known."""
        if self.duct is None:
            return None
        return reynolds(self.duct, flow / self.count, liquid.density, liquid.viscosity)


def passage(spec: Spec, address: str) -> Passage:
    """The hydraulics of a hose, plate, radiator, block or reservoir."""
    kind, name = address.split(".", 1)
    table = getattr(spec, kind)[name]
    if isinstance(table, Hose):
        fittings = sum(FITTING_K[fitting] * count for fitting, count in table.fittings.items())
        return Passage(
            round_duct(table.bore),
            table.length,
            table.loss_coefficient + fittings,
            table.roughness or 0.0,
            None,
        )
    if isinstance(table, Plate):
        channel = table.channel
        duct = rectangular_duct(channel.width, channel.depth, channel.heated_walls)
        bends = _corners(channel.path)
        loss = channel.loss_coefficient + bends * channel.bend_loss
        length, count = path_length(channel.path), len(channel.grooves)
        return Passage(duct, length, loss, channel.roughness or 0.0, None, count)
    if isinstance(table, Radiator | Block):
        return Passage(None, 0.0, 0.0, 0.0, _measured(table))
    return Passage(None, 0.0, 0.0, 0.0, None)


def passages(spec: Spec, series: Series) -> dict[str, Passage]:
    """The hydraulics of every element of a path, by address; hoses that follow each other lose at their joint too.

    Where the bore widens Borda-Carnot, where it narrows White's textbook form; all other elements hold their entry and
    exit in what was stated or measured.
    """
    found = {address: passage(spec, address) for address in elements(series)}
    for before, after in _neighbours(series):
        if before.startswith("hose.") and after.startswith("hose."):
            narrow, wide = sorted((before, after), key=lambda address: _bore(spec, address))
            ratio = _bore(spec, narrow) / _bore(spec, wide)
            loss = sudden_expansion(ratio) if narrow == before else sudden_contraction(ratio)
            found[narrow] = replace(found[narrow], step_loss=found[narrow].step_loss + loss)
    return found


def _bore(spec: Spec, hose: str) -> float:
    return spec.hose[hose.removeprefix("hose.")].bore


def _neighbours(series: Series) -> Iterator[tuple[str, str]]:
    """Pairs of elements that follow each other directly, within branches too."""
    for before, after in pairwise(series):
        if isinstance(before, str) and isinstance(after, str):
            yield before, after
    for item in series:
        if isinstance(item, Branches):
            for way in item.ways:
                yield from _neighbours(way)


def _measured(table: Drop) -> tuple[float, float, float] | None:
    if table.drop is None or table.drop_at is None:
        return None
    return table.drop, table.drop_at, table.drop_exponent


def path_length(path: Sequence[tuple[float, float]]) -> float:
    """Length of a polyline, m."""
    return sum(hypot(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(path))


def _corners(path: Sequence[tuple[float, float]]) -> int:
    """Corners of a polyline that turn by more than 30°."""
    count = 0
    for a, b, c in zip(path, path[1:], path[2:], strict=False):
        u, v = (b[0] - a[0], b[1] - a[1]), (c[0] - b[0], c[1] - b[1])
        cosine = (u[0] * v[0] + u[1] * v[1]) / (hypot(*u) * hypot(*v))
        count += cosine < 0.866
    return count


def tube_area(bore: float) -> float:
    """Cross-section of a tube, m²."""
    return pi * bore * bore / 4


Flows = dict[str, float]


class LoopHydraulics:
    """Where a loop's pump curve meets its resistance, at a coolant temperature and pump speed."""

    def __init__(self, spec: Spec, loop: Loop) -> None:
        self.loop = loop
        self.coolant: Coolant = coolant(loop.coolant, loop.fraction, loop.fraction_by)
        self.series = read_path(loop.path)
        self.passages = passages(spec, self.series)
        pump = spec.pump[loop.pump.removeprefix("pump.")]
        self.curve = PressureCurve([q for q, _ in pump.curve], [p for _, p in pump.curve])
        self._flows = lru_cache(maxsize=4096)(self._solve)

    def liquid(self, temperature_degc: float) -> LiquidState:
        """Properties, held at the last liquid state; a case that can freeze is refused, boiling is warned of."""
        low, high = self.coolant.freezing_degc, 99.9
        return self.coolant.at(min(max(temperature_degc, low), high))

    def flows(self, temperature_degc: float, speed: float, closed: frozenset[str] = frozenset()) -> Flows:
        """Flow through each element, m³/s, and the pump's under `pump`.

        Solved at whole knots of temperature and speed and linear in between, so it is continuous and quick.
        """
        knot, warm = divmod(temperature_degc / KNOT, 1.0)
        notch, fast = divmod(speed / NOTCH, 1.0)
        found: Flows = {}
        for up, share in ((0, 1 - warm), (1, warm)):
            for on, part in ((0, 1 - fast), (1, fast)):
                if share * part:
                    for key, flow in self._flows((knot + up) * KNOT, (notch + on) * NOTCH, closed).items():
                        found[key] = found.get(key, 0.0) + share * part * flow
        return found

    def _solve(self, temperature_degc: float, speed: float, closed: frozenset[str]) -> Flows:
        liquid = self.liquid(temperature_degc)
        if speed <= 0 or not passable(self.series, closed):
            total = 0.0
        elif self.loop.flow is not None:
            total = self.loop.flow * speed  # pinned at rated speed
        else:
            # pump curves are measured with water: pressure goes with density
            available = self.curve.scaled(speed, density_ratio=liquid.density / 998.2)
            total = meeting_flow(
                available,
                lambda flow: self.drop(self.series, flow, liquid, closed),
                self.curve.flow[-1] * speed,
            )
        flows: Flows = {"pump": total}
        self._share(self.series, total, liquid, closed, flows)
        return flows

    def drop(self, series: Series, flow: float, liquid: LiquidState, closed: frozenset[str]) -> float:
        """Pressure drop along a passable series at a flow, Pa."""
        total = 0.0
        for item in series:
            if isinstance(item, str):
                total += self.passages[item].drop(flow, liquid)
            else:
                total += self._split(item, flow, liquid, closed)[0]
        return total

    def _split(
        self, branches: Branches, flow: float, liquid: LiquidState, closed: frozenset[str]
    ) -> tuple[float, list[float]]:
        """Common drop of branches side by side, and the flow of each, adding up to `flow`."""
        open_ways = [passable(way, closed) for way in branches.ways]
        if flow <= 0:
            return 0.0, [0.0] * len(branches.ways)

        def way_flow(way: Series, pressure: float) -> float:
            return _inverse(lambda q: self.drop(way, q, liquid, closed), pressure, flow)

        def shares(pressure: float) -> list[float]:
            return [
                way_flow(way, pressure) if is_open else 0.0
                for way, is_open in zip(branches.ways, open_ways, strict=True)
            ]

        highest = max(
            self.drop(way, flow, liquid, closed) for way, ok in zip(branches.ways, open_ways, strict=True) if ok
        )
        if highest <= 0:
            count = sum(open_ways)
            return 0.0, [flow / count * ok for ok in open_ways]
        pressure = float(brentq(lambda p: sum(shares(p)) - flow, 0.0, highest, xtol=1e-9 * highest, rtol=1e-10))
        found = shares(pressure)
        scale = flow / sum(found)
        return pressure, [q * scale for q in found]

    def _share(self, series: Series, flow: float, liquid: LiquidState, closed: frozenset[str], flows: Flows) -> None:
        for item in series:
            if isinstance(item, str):
                flows[item] = flow
            else:
                for way, part in zip(item.ways, self._split(item, flow, liquid, closed)[1], strict=True):
                    self._share(way, part, liquid, closed, flows)


def _inverse(drop: Callable[[float], float], pressure: float, highest: float) -> float:
    """Flow at which a rising drop reaches a pressure, between 0 and `highest`."""
    if pressure <= 0:
        return 0.0
    if drop(highest) <= pressure:
        return highest
    return float(brentq(lambda q: drop(q) - pressure, 0.0, highest, xtol=1e-12 * highest, rtol=1e-11))
