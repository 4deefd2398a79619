"""Reasons in words."""

import math
from collections.abc import Mapping, Sequence
from typing import Final

from fluiddesk.domain.analytes import Analyte
from fluiddesk.domain.limits.combining import Why
from fluiddesk.domain.limits.fired import FiredRule
from fluiddesk.domain.limits.limit_set import LimitKind
from fluiddesk.domain.samples import Sign
from fluiddesk.domain.severity import Severity
from fluiddesk.services.reassess.stored_reasons import reasons_from_text, reasons_to_text

__all__ = ["headline", "reason_text", "reason_title", "reasons_from_text", "reasons_to_text"]

_WITHOUT_UNIT: Final = ("code", "index", "pH", "class", "absent/present")


def reason_title(rule: FiredRule, analytes: Mapping[str, Analyte]) -> str:
    """What is out of line: "Iron above the Act limit"."""
    analyte = analytes[rule.analyte]
    name, word = analyte.name, _own(rule).word
    side = "above" if rule.direction == "up" else "below"
    moved = "risen" if rule.direction == "up" else "fallen"
    if rule.kind is LimitKind.MISSING_TEST:
        return f"{name} not tested: incomplete"
    if rule.stands_over:
        return f"{name} at {rule.severity.word} not cleared"
    if analyte.is_presence_test:
        return f"{name} positive"
    return {
        LimitKind.LEVEL: f"{name} {side} the {word} limit",
        LimitKind.PERCENTILE: f"{name} {side} what like boxes show ({word} limit)",
        LimitKind.RATE_PER_100H: f"{name} made faster than the {word} limit",
        LimitKind.LEFT_RIGHT_RATIO: f"{name} {side} the other side ({word} limit)",
        LimitKind.COMPANION_RATIO: f"{name} {moved} against {_companion(rule, analytes)} "
        f"({word} limit)",
        LimitKind.PLAIN_RATIO: f"{name} to {_companion(rule, analytes)} {side} the {word} limit",
        LimitKind.OWN_STEP: f"{name} {moved} from its own history ({word} limit)",
        LimitKind.OFF_GRADE: f"{name} {side} its grade ({word} limit)",
    }.get(rule.kind, f"{name} {moved} past the {word} limit")


def reason_text(rule: FiredRule, analytes: Mapping[str, Analyte]) -> str:
    """The numbers of one reason: value, limit and margin, with units, and what changed the band.

    A level reads "112 mg/kg, limit 100"; a change "22 mg/kg, 17 over new fluid, limit +10".
    """
    told = [_numbers(rule, analytes), *_why(rule, analytes)]
    return "; ".join(part for part in told if part)


def _own(rule: FiredRule) -> Severity:
    """The band to name: the one the figure alone reaches, where it reaches one."""
    alone = rule.severity if rule.alone is None else rule.alone
    return alone if alone > Severity.NORMAL else rule.severity


def _companion(rule: FiredRule, analytes: Mapping[str, Analyte]) -> str:
    known = analytes.get(rule.companion)
    return known.name_in_text if known else "its companion"


def _numbers(rule: FiredRule, analytes: Mapping[str, Analyte]) -> str:
    analyte = analytes[rule.analyte]
    if rule.kind is LimitKind.MISSING_TEST:
        return "ordered, no result"
    if analyte.is_presence_test:
        return "present" if rule.value else "absent"
    if math.isnan(rule.value):
        return "not tested in this sample"
    unit = "" if analyte.unit in _WITHOUT_UNIT else f" {analyte.unit}"
    sign = {Sign.BELOW: "<", Sign.ABOVE: ">"}.get(rule.sign, "")
    value = f"{sign}{analyte.text(rule.value)}{unit}"
    run_in = f" (x{rule.factor:g} while running in)" if rule.factor != 1.0 else ""
    return f"{value}{_compared(rule, analyte, unit)}{run_in}"


def _compared(rule: FiredRule, analyte: Analyte, unit: str) -> str:
    """What was held against the bound, and the bound."""
    if rule.kind in (LimitKind.LEVEL, LimitKind.PERCENTILE):
        return f", limit {rule.bound:g}"
    if math.isnan(rule.compared):
        return ""
    side = "over" if rule.compared >= 0 else "below"
    if rule.kind is LimitKind.CHANGE:
        moved = analyte.text(abs(rule.compared))
        return f", {moved} {side} new fluid, limit {rule.bound:+g}"
    if rule.kind is LimitKind.CHANGE_PERCENT:
        return f", {abs(rule.compared):.1f} % {side} new fluid, limit {rule.bound:+g} %"
    return _beside_others(rule, unit)


def _beside_others(rule: FiredRule, unit: str) -> str:
    """The comparison of kinds that look at other samples or at a grade."""
    given = {name: f"{value:g}" for name, value in rule.inputs}
    start = f" from {given['start']}" if "start" in given else ""
    hours = f" over {dict(rule.inputs)['hours']:.0f} h" if "hours" in given else ""
    other = f" ({given['other_side']})" if "other_side" in given else ""
    edge = f" ({given['edge']})" if "edge" in given else ""
    expected = dict(rule.inputs).get("expected")
    foreseen = "" if expected is None else f" the expected {expected:.3g}"
    size, bound = abs(rule.compared), rule.bound
    return {
        LimitKind.RATE_PER_100H: f"{start}: {rule.compared:.1f}{unit} per 100 h{hours}, "
        f"limit {bound:g}",
        LimitKind.LEFT_RIGHT_RATIO: f", {size:.2f} times the other side{other}, limit {bound:g}",
        LimitKind.COMPANION_RATIO: f", {size:.2f} times the usual ratio, limit {bound:g}",
        LimitKind.PLAIN_RATIO: f", ratio {size:.2f}, limit {bound:g}",
        LimitKind.OWN_STEP: f", {size:.1f} spreads off{foreseen}, limit {abs(bound):g}",
        LimitKind.OFF_GRADE: f", {size:.1f} % past the edge of its grade{edge}, limit {bound:g} %",
    }[rule.kind]


def _why(rule: FiredRule, analytes: Mapping[str, Analyte]) -> list[str]:
    """What put the limit in another band than its figure alone."""
    word = rule.severity.word
    told = []
    if rule.why & Why.MASKED:
        told.append("masked by the fluid change")
    elif rule.why & Why.HELD:
        told.append("two clear samples in a row clear it")
    if rule.why & Why.RAISED:
        names = ", ".join(analytes[code].name_in_text for code in rule.beside if code in analytes)
        told.append(f"raised to {word} by {names or 'its companions'}")
    elif rule.why & Why.AGREED:
        told.append(f"raised to {word}: two kinds of evidence agree")
    if rule.why & Why.STOPPED:
        told.append("unusual, but within what the method can tell apart")
    if rule.why & Why.LACKS:
        told.append("lowered: its companions did not move")
    if rule.why & Why.CAPPED:
        told.append("sample in doubt: resample before acting")
    return told


def headline(rules: Sequence[FiredRule], analytes: Mapping[str, Analyte]) -> str:
    """The leading reason in one line, and how many stand beside it; empty when none fired."""
    if not rules:
        return ""
    first = f"{analytes[rules[0].analyte].name} {reason_text(rules[0], analytes)}"
    others = len({rule.analyte for rule in rules} - {rules[0].analyte})
    return f"{first}; {others} more" if others else first
