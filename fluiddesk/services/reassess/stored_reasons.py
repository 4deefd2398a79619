"""Reasons as text beside their assessment; what older versions of the program wrote is read too."""

import json
import math
from collections.abc import Mapping, Sequence
from typing import Any, Final

from fluiddesk.domain.limits.fired import FiredRule
from fluiddesk.domain.limits.limit_set import LimitKind
from fluiddesk.domain.samples import Sign
from fluiddesk.domain.severity import Severity

_ENCODER: Final = json.JSONEncoder(separators=(",", ":"))


def reasons_to_text(rules: Sequence[FiredRule]) -> str:
    """Reasons as stored with an assessment."""
    return _ENCODER.encode([_told(rule) for rule in rules]) if rules else "[]"


def _told(rule: FiredRule) -> dict[str, Any]:
    told: dict[str, Any] = {
        "analyte": rule.analyte,
        "kind": rule.kind.value,
        "direction": rule.direction,
        "severity": int(rule.severity),
        "sign": int(rule.sign),
        "value": _number(rule.value),
        "reference": rule.reference,
        "compared": _number(rule.compared),
        "bound": rule.bound,
        "scope": rule.scope,
        "source": rule.source,
        "set_by": rule.set_by,
    }
    # Most rules need no more; a million stored reasons shall not carry what says nothing.
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


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None


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
