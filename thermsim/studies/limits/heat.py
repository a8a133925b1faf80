"""Heat that goes where the model, or the thing itself, no longer follows: boiling, hot air, wet places, dry pipes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from thermsim.model.arrays import Floats
from thermsim.model.system import Model
from thermsim.studies.limits.entry import (
    BOILING,
    CONDENSATION,
    HOT_AIR,
    NO_WAY_OUT,
    PIPE_NEAR,
    PIPE_OVER,
    Limit,
    limit,
)

Facts = Mapping[str, Any]
BOILING_SOON = 95.0  # °C
BOILS = 100.0  # °C, at the sea's level and open to the air
DRY_MARGIN = 2.0  # K over the dew point; common practice, no source
NEAR_CAPACITY = 0.8  # of a heat pipe's; common practice, no source


def no_way_out() -> Limit:
    """Heat that is put in and that nothing carries away."""
    return limit(NO_WAY_OUT, (), "as it stands at the end some heat has no way out: temperatures rise without end")


def boiling(hottest_degc: Mapping[str | None, float]) -> Iterator[Limit]:
    """Loops whose hottest coolant (°C, by name, None if any) would pass what it may."""
    hot = {name: value for name, value in hottest_degc.items() if value > BOILING_SOON}
    if hot:
        worst = max(hot.values())
        told = (
            f"near boiling: keep it under {BOILING_SOON:.0f} °C"
            if worst < BOILS
            else "so it boils: temperatures beyond are not real, and a closed loop may burst. Stop the heat before"
        )
        yield limit(
            BOILING, (f"loop.{name}" for name in hot if name is not None),
            f"left so, the coolant gets to {worst:.0f} °C, {told}",
            worst - BOILING_SOON, hottest_degc=worst,
        )  # fmt: skip


def pipes(told: Mapping[str, Facts]) -> Iterator[Limit]:
    """Heat pipes that carry more than they can, and those near it or without their wanted margin."""
    over, near = {}, {}
    for name, pipe in told.items():
        share = pipe["load_w"] / pipe["capacity_w"] if pipe["capacity_w"] else float(pipe["load_w"] > 0) * 1e3
        if share > 1:
            over[name] = share
        elif share > NEAR_CAPACITY or not pipe["carries"]:
            near[name] = share
    for called, those in ((PIPE_OVER, over), (PIPE_NEAR, near)):
        if those:
            name = max(those, key=lambda one: those[one])
            pipe = told[name]
            load = f"{pipe['load_w']:.0f} W against a capacity of {pipe['capacity_w']:.0f} W"
            load = load if len(those) == 1 else f"{name}: {load}"
            if called == PIPE_OVER:
                text = f"{load}. It dries out, and the temperatures told are too low; more pipes, or larger ones"
            else:
                text = f"{load}, which is good to a factor of two; the wanted margin is {pipe['wanted_margin']:g}"
            yield limit(called, (f"heat_pipe.{one}" for one in those), text, those[name], share_of_capacity=those[name])


def hot_air(model: Model, full: Floats) -> Iterator[Limit]:
    """Parts with a limit that stand in air hotter than it, at temperatures of all nodes and places."""
    found: dict[str, tuple[float, float]] = {}
    for name, part in model.case.spec.part.items():
        if part.limit is None or part.centre is None:
            continue
        for airway, stream in model.site.streams.items():
            way = model.case.spec.airway[airway]
            if way.corner is None or way.size is None:
                continue
            inside = all(
                low <= at <= low + side for at, low, side in zip(part.centre, way.corner, way.size, strict=True)
            )
            if inside:
                air = float(full[stream.node_at(*(np.array([value]) for value in part.centre))][0])
                if air > part.limit and air > found.get(f"part.{name}", (-1e9, 0.0))[0]:
                    found[f"part.{name}"] = air, part.limit
    if found:
        part_, (air, bound) = max(found.items(), key=lambda item: item[1][0] - item[1][1])
        yield limit(
            HOT_AIR, found,
            f"the air over {part_} is {air:.0f} °C, its limit {bound:.0f}: no sink there can help. More air, or a "
            "place upstream",
            air - bound, air_degc=air, limit_degc=bound,
        )  # fmt: skip


def condensation(dew: Facts | None, wanted_k: float = DRY_MARGIN) -> Iterator[Limit]:
    """The coldest place, if it is no further above the room's dew point than wanted."""
    if dew is not None and dew["margin_k"] < wanted_k:
        side = "below" if dew["margin_k"] < 0 else "above"
        yield limit(
            CONDENSATION, [dew["coldest_at"]] if dew["coldest_at"] else (),
            f"the coldest place, {dew['coldest_degc']:.1f} °C, is {abs(dew['margin_k']):.1f} K {side} the room's dew "
            f"point, {dew['dew_point_degc']:.1f} °C; keep {wanted_k:g} K or more above, by warmer coolant or inlet air",
            wanted_k - dew["margin_k"], margin_k=dew["margin_k"], dew_point_degc=dew["dew_point_degc"],
        )  # fmt: skip
