"""Whether case, summary, fields and curves of a result tell of the same box: what its figures take for granted."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from typing import Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from thermsim.case.names import obeyed
from thermsim.case.schema import Spec


class _Told(BaseModel):
    model_config = ConfigDict(extra="ignore", allow_inf_nan=False)


class _Reading(_Told):
    tolerance_ppm: float | None
    warm_up_s: float | None


class _Part(_Told):
    steady_degc: float
    warm_up_s: float | None
    limit_degc: float | None = None
    reading: _Reading | None = None


class _WarmUp(_Told):
    time_s: float | None = None
    stretch_s: tuple[float, float] = (0.0, 0.0)
    slowest_part: str | None = None


class _MustHave(_Told):
    name: str
    of: str
    met: bool | None


class _Summary(_Told):
    parts: dict[str, _Part] = Field(default_factory=dict)
    warm_up: _WarmUp = _WarmUp()
    must_haves: list[_MustHave] = Field(default_factory=list)


def check_story(
    spec: Spec, summary: Any, fields: Iterable[str], curves: Mapping[str, Mapping[str, Any]]
) -> None:  # fmt: skip
    """Raise `ValueError` where they do not: a part without its curve, a sheet that the case has not …"""
    try:
        told = _Summary.model_validate_json(json.dumps(summary))
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        raise ValueError(f"its summary's {'.'.join(map(str, first['loc']))}: {first['msg']}") from None
    if obeyed(json.dumps(summary, ensure_ascii=False)):
        raise ValueError("its summary holds a control character")
    for address in fields:
        kind, name = address.split(".", 1)
        if name not in getattr(spec, kind):
            raise ValueError(f"{address} is not in its case")
    parts = curves.get("parts", {})
    for name in told.parts:
        if name not in spec.part or name not in parts:
            raise ValueError(f"part.{name} is not in its case, or has no curve")
        if told.parts[name].reading is not None and spec.part[name].drift is None and spec.part[name].doubling is None:
            raise ValueError(f"part.{name} has no reading in its case")
    if "ledger" in curves and "supplied" not in curves["ledger"]:
        raise ValueError("its ledger does not tell what was supplied")
    strange = [name for name in parts if name not in spec.part]
    if strange:
        raise ValueError(f"part.{strange[0]} has a curve and is not in its case")


def seal_of(case: str, summary: str) -> str:
    """SHA-256 (hex) of what a result says in words, by which a summary that was changed since is known."""
    return hashlib.sha256(f"{case}\n{summary}".encode()).hexdigest()
