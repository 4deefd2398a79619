"""What is read of a limit set and of one limit: its sentence, its details, what it overrides."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from fluiddesk.desktop.viewstate.limit_derive import derivation_words
from fluiddesk.desktop.viewstate.limit_ruler import bound_shown
from fluiddesk.desktop.viewstate.limit_rules import NO_NAMES, NOT_JUDGED, fluid_words, scope_label
from fluiddesk.domain.limits.limit_set import Limit, LimitSet, LimitSetState, Scope
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.limit_rules import LimitLine, LimitsShown, shown
from fluiddesk.services.limit_rules.facts import SetFacts


def boundary_text(line: LimitLine) -> str:
    """What a value exactly on a bound means."""
    if line.limit.boundary == "at":
        return "A value on the limit counts as the worse band."
    return "Only a value beyond the limit counts as the worse band."


def limit_details(
    line: LimitLine, limits: Sequence[Limit] = (), box_names: Mapping[str, str] = NO_NAMES
) -> list[tuple[str, str]]:
    """Everything one limit says, as (what, words), for reading; empty parts are left out.

    Args:
        line: the limit.
        limits: all limits of its set, of which it overrides some and is overridden by others.
        box_names: names of single boxes, by the hex of their identifiers.
    """
    fluid = fluid_words(line).capitalize() or "Any"
    off = ""
    if line.limit.is_off:
        until = f" until {line.limit.off_until}" if line.limit.off_until else ""
        off = f"Nothing is judged by it here{until}."
    told = [
        ("Holds for", scope_label(line, box_names)),
        ("Fluid class", fluid),
        ("Switched off", off),
        ("On the limit", boundary_text(line)),
        ("Needs", line.needs),
        ("In use", "" if line.is_judged else NOT_JUDGED.capitalize() + "."),
        ("Source", line.source),
        ("Derived", derivation_words(line.limit.derivation)),
        ("Set by", line.set_by),
        ("Note", line.note),
        ("Overrides", _rivals_text(line.limit, limits, is_wider=True)),
        ("Gives way to", _rivals_text(line.limit, limits, is_wider=False)),
    ]
    return [(what, words) for what, words in told if words]


def _rivals_text(limit: Limit, limits: Sequence[Limit], *, is_wider: bool) -> str:
    """The rows of the same subject for more boxes, or for fewer, with their bounds."""
    found = [
        other
        for other in limits
        if other.key == limit.key
        and other.scope != limit.scope
        and (
            is_within(limit.scope, other.scope) if is_wider else is_within(other.scope, limit.scope)
        )
    ]
    return "; ".join(
        f"{one.scope.text} ({' / '.join(_bound_or_dash(bound) for bound in one.bounds())})"
        for one in found
    )


def _bound_or_dash(bound: float | None) -> str:
    return "-" if bound is None else bound_shown(f"{bound:g}")


def is_within(narrow: Scope, wide: Scope) -> bool:
    """Whether every box of one scope is a box of the other, as far as the scopes tell.

    >>> is_within(Scope(model="A", compartment_kind="engine"), Scope(compartment_kind="engine"))
    True
    """
    return all(
        getattr(wide, name) in ("", getattr(narrow, name))
        for name in ("machine_kind", "model", "compartment_kind", "compartment", "fluid_class")
    )


def shown_anew(
    facts: LimitsShown, before: LimitSet, after: LimitSet, catalogue: Catalogue
) -> LimitsShown:
    """A set in words after a few of its limits changed; the words of the others are kept.

    Args:
        facts: what was shown of the set before.
        before: that set.
        after: the set now.
        catalogue: the words for analytes and kinds.
    """
    pairs = list(zip(before.limits, after.limits, strict=False))
    changed = [(old, new) for old, new in pairs if old is not new]
    is_moved = any((old.scope, old.key) != (new.scope, new.key) for old, new in changed)
    if len(before.limits) != len(after.limits) or is_moved or before.number != after.number:
        return shown(after, catalogue)
    few = shown(_only(after, changed), catalogue)
    told = {id(one.limit): one for one in few.lines}
    anew = {id(old): told[id(new)] for old, new in changed}
    return replace(few, lines=tuple(anew.get(id(one.limit), one) for one in facts.lines))


def _only(limit_set: LimitSet, changed: Sequence[tuple[Limit, Limit]]) -> LimitSet:
    return replace(limit_set, limits=tuple(new for _, new in changed))


def set_line(facts: LimitsShown, one: SetFacts | None = None) -> str:
    """Who put the set in force, and what they noted; which samples one in force judges."""
    told = _by_whom(facts)
    if one is None or not one.holds_today:
        return told
    return f"{told} It judges samples drawn from {one.valid_from} on; older verdicts stand."


def _by_whom(facts: LimitsShown) -> str:
    return ". ".join(part.rstrip(".") for part in (f"By {facts.author}", facts.note) if part) + "."


def set_sentence(facts: LimitsShown, one: SetFacts | None) -> str:
    """The page's sentence on a set that is not being edited."""
    if one is None or one.holds_today:
        return facts.sentence
    name = f'Limit set {facts.number} "{facts.name}"'
    if one.is_discarded:
        return f"{name}: a draft that was discarded."
    if one.state is LimitSetState.IN_FORCE:
        return f"{name} takes force on {one.valid_from}."
    return f"{name}, retired: held from {one.valid_from} to {one.valid_until}."
