"""What is said of limits derived from the fleet's own history."""

import json

from fluiddesk.services.limit_rules.facts import Derived, DerivedBound, DerivedRow


def derived_sentence(derived: Derived) -> str:
    """From which days the figures come, how many rows have enough, and what was left out."""
    ready = sum(row.may_be_taken for row in derived.rows)
    told = f"From {derived.since} to {derived.until}: {ready} of {len(derived.rows)} rows "
    told += "have enough samples."
    left_out = [f"{count} {why}" for why, count in derived.excluded.items() if count]
    if left_out:
        told += f" Left out: {', '.join(left_out)}."
    return f"{told} Nothing changes until a person takes a row into a draft."


def derived_details(row: DerivedRow) -> str:
    """The percentiles of a row with their intervals, the shape, and what each set would flag."""
    parts = [
        _bound_words(name, bound)
        for name, bound in (("Watch", row.watch), ("Act", row.act), ("Urgent", row.urgent))
    ]
    if row.may_be_taken and row.parent_scope and row.own_share < 1:
        parts.append(f"Drawn towards {row.parent_scope}: {100 * row.own_share:.0f} % own figures.")
    if row.below:
        parts.append(f"{row.below} of {row.samples} samples are below detection.")
    parts.extend(note for note in (row.shape_note, row.outlier_note, row.excluded_note) if note)
    parts.append(
        f"With a fault found: {row.present_flags_with_finding} of {row.present_flags} flagged "
        f"now, {row.derived_flags_with_finding} of {row.derived_flags} then."
    )
    return " ".join(part if part.endswith(".") else f"{part}." for part in parts)


def _bound_words(name: str, bound: DerivedBound) -> str:
    if bound.value is None:
        why = (bound.why or "not enough").rstrip(".")
        return f"{name} ({bound.percent:g} %): {why}."
    told = f"{name} {bound.value:g} ({bound.percent:g} %"
    if bound.low is not None and bound.high is not None:
        told += f", {bound.low:.3g} to {bound.high:.3g}"
    return f"{told})."


def derivation_words(text: str) -> str:
    """How a limit was derived, as its row keeps it; empty where it was not.

    >>> derivation_words('{"samples": 548, "machines": 30, "low": [48.2], "high": [84.0]}')
    'From 548 samples of 30 machines; Watch between 48.2 and 84 (90 %).'
    """
    if not text:
        return ""
    kept = json.loads(text)
    told = f"From {kept.get('samples', '?')} samples of {kept.get('machines', '?')} machines"
    if kept.get("since") and kept.get("until"):
        told += f", {kept['since']} to {kept['until']}"
    low, high = (next(iter(kept.get(key) or ()), None) for key in ("low", "high"))
    if low is not None and high is not None:
        told += f"; Watch between {low:.3g} and {high:.3g} (90 %)"
    if kept.get("parent") and kept.get("own_share", 1) < 1:
        told += f"; {100 * kept['own_share']:.0f} % own, the rest of {kept['parent']}"
    return f"{told}."
