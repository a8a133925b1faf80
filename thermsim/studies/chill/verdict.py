"""Whether chilled air helps a box: judged at the coldest inlet that stays dry."""

from __future__ import annotations

from typing import Any

from thermsim.studies.chill.trial import RESOLVED, deciding_part

Facts = dict[str, Any]
MOSTLY = 0.5  # of its rise above the room: a part's joint then decides; common practice, no source


def verdict(facts: Facts) -> Facts:
    """`helps`: "yes", "not enough" or "no", with the `reason`.

    With speeds frozen the deciding part's drop must not be lost in the uncertainty, and every part must keep its
    limit. Where a joint keeps one over it, or only noise is amiss and no governor turns cold into quiet, air does not
    help.
    """
    base, coldest = facts["base"], facts["coldest_dry"]
    part = deciding_part(base)
    told: Facts = {"helps": "no", "part": part, "drop_k": None, "reason": "wet", "joint": None}
    if part is None or coldest is None:
        return told
    cold = coldest["frozen"]
    told["drop_k"] = base["parts_degc"][part] - cold["parts_degc"][part]
    if told["drop_k"] < RESOLVED * facts["uncertainty_k"]:
        return told | {"reason": "lost in the uncertainty"}
    before, after = base["worst_margin_k"], cold["worst_margin_k"]
    if before is not None and before < 0 <= after:
        return told | {"helps": "yes", "reason": "limits are kept"}
    if after is None or after >= 0:
        if is_too_loud(facts, base) and not facts["governed"]:
            return told | {"reason": "noise stays"}
        return told | {"helps": "yes", "reason": "cooler"}
    joint = cold["joints"].get(cold["worst_part"])
    rise = base["parts_degc"][cold["worst_part"]] - facts["room_degc"]
    if joint and joint["drop_k"] >= MOSTLY * rise:
        return told | {"reason": "a joint", "joint": joint}
    return told | {"helps": "not enough", "reason": "over its limit"}


def is_too_loud(facts: Facts, state: Facts) -> bool:
    """Whether a state is louder than its must-have allows."""
    level, limit = state["with_room_dba"], facts["quiet_limit_dba"]
    return level is not None and limit is not None and level > limit
