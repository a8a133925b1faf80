"""The largest share of all watts at which no limit is ever passed while a mishap lasts."""

from __future__ import annotations

from typing import Any

from scipy.optimize import brentq

from thermsim.case.case import Case
from thermsim.solve.factor import NoPath
from thermsim.studies.mishap.cases import scaled, total_watts
from thermsim.studies.settled import Settler

Facts = dict[str, Any]
MOST = 2.0  # times the watts: what is safe beyond is not looked for
NEAR = 1e-4  # of the watts: as much is left to stay on the safe side of the root
NO_WAY_OUT = 1e5  # K over any limit


def safe_power(case: Case, settler: Settler) -> Facts | None:
    """The factor on all watts, those watts, and the part that decides; None where no part has watts and a limit.

    Margins fall as watts rise, so the root of the smallest is bracketed. The states are those of the time before the
    mishap ends, if it does.
    """
    watts = total_watts(case)
    if watts <= 0 or all(part.limit is None for part in case.spec.part.values()):
        return None
    deciding: dict[float, str | None] = {}

    def margin(factor: float) -> float:
        try:
            worst = settler.settle(scaled(case, factor)).worst
        except NoPath:
            worst = None
        deciding[factor] = worst[0] if worst else None
        return worst[1] if worst else -NO_WAY_OUT

    factor = _largest(margin)
    return {
        "factor": factor,
        "at_least": factor == MOST,
        "watts": factor * watts,
        "part": deciding[min(deciding, key=lambda tried: abs(tried - factor))],
    }


def _largest(margin: Any) -> float:
    low, high = 0.0, 1.0
    if margin(high) >= 0:
        low, high = high, MOST
        if margin(high) >= 0:
            return MOST
    elif margin(low) < 0:
        return 0.0
    return max(float(brentq(margin, low, high, xtol=NEAR / 2)) - NEAR, 0.0)
