"""Reasons as text beside their assessment; what older versions of the program wrote is read too."""

import json
import math
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any, Final

from fluiddesk.domain.limits.fired import FiredRule
from fluiddesk.domain.limits.limit_set import LimitKind
from fluiddesk.domain.samples import Sign
from fluiddesk.domain.severity import Severity

_ENCODER: Final = json.JSONEncoder(separators=(",", ":"))


def reasons_to_text(rules: Sequence[FiredRule]) -> str:
    """Reasons as stored with an assessment: JSON without spaces.

    Put together by hand: what belongs to the limit is spelled once, not for each of the hundred
    thousand samples it fired on.
    """
    return f"[{','.join(map(_told, rules))}]"


def _told(rule: FiredRule) -> str:
    told = (
        f"{_head(rule.analyte, rule.kind.value, rule.direction)}"
        f'"severity":{int(rule.severity)},"sign":{int(rule.sign)},"value":{_figure(rule.value)},'
        f'"reference":{_figure(rule.reference)},"compared":{_figure(rule.compared)},'
        f'"bound":{_figure(rule.bound)},{_origin(rule.scope, rule.source, rule.set_by)}'
    )
    more = _more(rule)
    return f"{told},{_ENCODER.encode(more)[1:]}" if more else f"{told}}}"


def _more(rule: FiredRule) -> dict[str, Any]:
    """What most rules do not need; a million stored reasons shall not carry what says nothing."""
    told: dict[str, Any] = {}
    if rule.alone is not None:
        told["alone"] = int(rule.alone)
    if rule.why:
        told["why"] = rule.why
    if rule.factor != 1.0:
        told["factor"] = rule.factor
    if rule.companion:
        told["companion"] = rule.companion
    if rule.inputs:
        told["inputs"] = dict(rule.inputs)
    if rule.beside:
        told["beside"] = list(rule.beside)
    return told


@lru_cache(maxsize=4096)
def _head(analyte: str, kind: str, direction: str) -> str:
    told = {"analyte": analyte, "kind": kind, "direction": direction}
    return f"{_ENCODER.encode(told)[:-1]},"


@lru_cache(maxsize=4096)
def _origin(scope: str, source: str, set_by: str) -> str:
    return _ENCODER.encode({"scope": scope, "source": source, "set_by": set_by})[1:-1]


def _figure(value: float | None) -> str:
    if value is None or not math.isfinite(value):
        return "null"
    # What the encoder makes of such a number too, in a tenth of its time.
    return float.__repr__(value) if isinstance(value, float) else int.__repr__(value)


def reasons_from_text(text: str | None) -> tuple[FiredRule, ...]:
    """Reasons as stored, back as rules; none for an empty text."""
    return tuple(_rule(one) for one in json.loads(text or "[]"))


def _rule(one: Mapping[str, Any]) -> FiredRule:
    severity = Severity(one["severity"])
    return FiredRule(
        analyte=one["analyte"],
        kind=LimitKind(one["kind"]),
        direction=one["direction"],
        severity=severity,
        sign=Sign(one["sign"]),
        value=math.nan if one["value"] is None else one["value"],
        reference=one["reference"],
        compared=math.nan if one["compared"] is None else one["compared"],
        bound=one["bound"],
        scope=one["scope"],
        source=one["source"],
        set_by=one["set_by"],
        alone=Severity(one["alone"]) if "alone" in one else None,
        why=one.get("why", 0),
        factor=one.get("factor", 1.0),
        companion=one.get("companion", ""),
        inputs=tuple(one.get("inputs", {}).items()),
        beside=tuple(one.get("beside", ())),
    )
