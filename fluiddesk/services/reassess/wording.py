"""Reasons in words and as stored text."""

import json
from collections.abc import Mapping, Sequence

from fluiddesk.domain.analytes import Analyte
from fluiddesk.domain.limits.assessment import FiredRule
from fluiddesk.domain.limits.limit_set import LimitKind
from fluiddesk.domain.samples import Sign
from fluiddesk.domain.severity import Severity


def reason_title(rule: FiredRule, analytes: Mapping[str, Analyte]) -> str:
    """What is out of line: "Iron above the Act limit"."""
    name = analytes[rule.analyte].name
    side = "above" if rule.direction == "up" else "below"
    if analytes[rule.analyte].is_presence_test:
        return f"{name} positive"
    if rule.kind is LimitKind.LEVEL:
        return f"{name} {side} the {rule.severity.word} limit"
    moved = "risen" if rule.direction == "up" else "fallen"
    return f"{name} {moved} past the {rule.severity.word} limit"


def reason_text(rule: FiredRule, analytes: Mapping[str, Analyte]) -> str:
    """The numbers of one reason: value, limit and margin, with units.

    A level reads "112 mg/kg, limit 100"; a change "22 mg/kg, 17 over new fluid, limit +10".
    """
    analyte = analytes[rule.analyte]
    if analyte.is_presence_test:
        return "present"
    unit = "" if analyte.unit in ("code", "index", "pH", "class") else f" {analyte.unit}"
    sign = {Sign.BELOW: "<", Sign.ABOVE: ">"}.get(rule.sign, "")
    value = f"{sign}{analyte.text(rule.value)}{unit}"
    if rule.kind is LimitKind.LEVEL:
        return f"{value}, limit {rule.bound:g}"
    side = "over" if rule.compared >= 0 else "below"
    if rule.kind is LimitKind.CHANGE:
        return (
            f"{value}, {analyte.text(abs(rule.compared))} {side} new fluid, limit {rule.bound:+g}"
        )
    return f"{value}, {abs(rule.compared):.1f} % {side} new fluid, limit {rule.bound:+g} %"


def headline(rules: Sequence[FiredRule], analytes: Mapping[str, Analyte]) -> str:
    """The leading reason in one line, and how many stand beside it; empty when none fired."""
    if not rules:
        return ""
    first = f"{analytes[rules[0].analyte].name} {reason_text(rules[0], analytes)}"
    others = len({rule.analyte for rule in rules} - {rules[0].analyte})
    return f"{first}; {others} more" if others else first


def reasons_to_text(rules: Sequence[FiredRule]) -> str:
    """Reasons as stored with an assessment."""
    return json.dumps(
        [
            {
                "analyte": rule.analyte,
                "kind": rule.kind.value,
                "direction": rule.direction,
                "severity": int(rule.severity),
                "sign": int(rule.sign),
                "value": rule.value,
                "reference": rule.reference,
                "compared": rule.compared,
                "bound": rule.bound,
                "scope": rule.scope,
                "source": rule.source,
                "set_by": rule.set_by,
            }
            for rule in rules
        ],
        separators=(",", ":"),
    )


def reasons_from_text(text: str | None) -> tuple[FiredRule, ...]:
    """Reasons as stored, back as rules; none for an empty text."""
    return tuple(
        FiredRule(
            analyte=one["analyte"],
            kind=LimitKind(one["kind"]),
            direction=one["direction"],
            severity=Severity(one["severity"]),
            sign=Sign(one["sign"]),
            value=one["value"],
            reference=one["reference"],
            compared=one["compared"],
            bound=one["bound"],
            scope=one["scope"],
            source=one["source"],
            set_by=one["set_by"],
        )
        for one in json.loads(text or "[]")
    )
