"""The versions of the limit set as rows of a history, and the rows in which two of them differ."""

from enum import IntEnum

from fluiddesk.desktop.viewstate.limit_row_fields import interval_sentence
from fluiddesk.desktop.viewstate.limit_ruler import bound_shown
from fluiddesk.domain.limits.interval_rule import IntervalRule
from fluiddesk.domain.limits.limit_set import Limit, LimitSetState, Scope
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.limit_rules import bound_text
from fluiddesk.services.limit_rules.facts import ChangeKind, RowChange, SetFacts


class VersionColumn(IntEnum):
    """The columns of the history."""

    NUMBER = 0
    NAME = 1
    STATE = 2
    FROM = 3
    UNTIL = 4
    AUTHOR = 5
    NOTE = 6


def is_draft(one: SetFacts) -> bool:
    """Whether a set can still be edited."""
    return one.state is LimitSetState.DRAFT and not one.is_discarded


def version_text(one: SetFacts, column: VersionColumn) -> str:
    """What one cell of the history says."""
    is_waiting = one.state is LimitSetState.DRAFT
    cells = {
        VersionColumn.NUMBER: str(one.number),
        VersionColumn.NAME: one.name,
        VersionColumn.STATE: state_text(one),
        VersionColumn.FROM: "" if is_waiting else one.valid_from.isoformat(),
        VersionColumn.UNTIL: one.valid_until.isoformat() if one.valid_until else "",
        VersionColumn.AUTHOR: one.author,
        VersionColumn.NOTE: one.note,
    }
    return cells[column]


def state_text(one: SetFacts) -> str:
    """The state; a set that is put in force for a later day says so."""
    if one.state is LimitSetState.IN_FORCE and not one.holds_today:
        return "Waits for its day"
    return one.state_words


def choice_text(one: SetFacts) -> str:
    """A version in the list of what can be shown: "2, draft: Autumn review"."""
    return f"{one.number}, {state_text(one).lower()}: {one.name}"


class ChangeColumn(IntEnum):
    """The columns of a comparison."""

    SCOPE = 0
    WHAT = 1
    BEFORE = 2
    AFTER = 3


def change_text(one: RowChange, column: ChangeColumn, catalogue: Catalogue) -> str:
    """What one cell of a comparison says."""
    rule = one.after or one.before
    if one.setting is not None:
        return ("Whole set", *one.setting)[column]
    if rule is None:
        return ""
    cells = {
        ChangeColumn.SCOPE: scope_words(rule.scope, catalogue),
        ChangeColumn.WHAT: what_words(rule, catalogue),
        ChangeColumn.BEFORE: "not there" if one.before is None else rule_text(one.before),
        ChangeColumn.AFTER: "left out" if one.after is None else rule_text(one.after),
    }
    if column is ChangeColumn.AFTER and cells[column] == cells[ChangeColumn.BEFORE]:
        # The bounds are the same: another source, note or day.
        return "source or note" if one.kind is ChangeKind.CHANGED else cells[column]
    return cells[column]


def what_words(rule: Limit | IntervalRule, catalogue: Catalogue) -> str:
    """What a rule is about: "Iron, level, rising"."""
    if isinstance(rule, IntervalRule):
        return "Sampling interval"
    analyte = catalogue.analytes.get(rule.analyte)
    name = analyte.name if analyte else rule.analyte
    return f"{name}, {kind_words(rule)}"


def kind_words(limit: Limit) -> str:
    """What a limit looks at and which way is worse: "rate per 100 h, rising"."""
    words = limit.kind.value.replace("_per_100h", " per 100 h").replace("_percent", ", %")
    way = "rising" if limit.direction == "up" else "falling"
    return f"{words.replace('_', ' ')}, {way}"


def scope_words(scope: Scope, catalogue: Catalogue) -> str:
    """A scope in the words of the catalogue."""
    parts = [
        catalogue.machine_kind_name(scope.machine_kind) if scope.machine_kind else "",
        scope.model,
        catalogue.kind_name(scope.compartment_kind) if scope.compartment_kind else "",
        f"box {scope.compartment[-8:]}" if scope.compartment else "",
        scope.fluid_class.replace("_", " "),
    ]
    return ", ".join(part for part in parts if part) or "Whole fleet"


def rule_text(rule: Limit | IntervalRule) -> str:
    """The figures of a rule in one phrase: "60 / 100 / 150", or "250 h or 90 d"."""
    if isinstance(rule, IntervalRule):
        parts = [
            f"{rule.interval_hours:g} h" if rule.interval_hours is not None else "",
            f"{rule.interval_days} d" if rule.interval_days is not None else "",
        ]
        told = " or ".join(part for part in parts if part) or "no interval"
        return f"{told}, \N{PLUS-MINUS SIGN}{100 * rule.window_share:g} %, {rule.convention}"
    if rule.is_off:
        return f"off until {rule.off_until}" if rule.off_until else "off"
    return " / ".join(bound_shown(bound_text(bound, rule)) or "-" for bound in rule.bounds())


def interval_details(rule: IntervalRule) -> list[tuple[str, str]]:
    """Everything one interval rule says, as (what, words), for reading."""
    counted = {
        "rolling": "The next sample is due one interval after the last one was drawn.",
        "grid": "Due points stand fixed; an early or late sample does not move the next one.",
    }
    share = 100 * rule.window_share
    told = [
        ("Due", interval_sentence(rule)),
        ("Counted", counted[rule.convention]),
        ("Window", f"On time within {share:g} % of the interval before or after the due point."),
        ("Source", rule.source),
        ("Set by", rule.set_by),
        ("Note", rule.note),
    ]
    return [(what, words) for what, words in told if words]
