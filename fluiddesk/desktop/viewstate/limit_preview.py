"""What a draft would change in the fleet, in the words and figures of the preview."""

from dataclasses import dataclass
from datetime import date
from typing import Final

from fluiddesk.domain.severity import Severity
from fluiddesk.services.limit_rules.facts import Budget, LastYear, Latest, WhatIfMove

ORDER: Final = (
    Severity.URGENT,
    Severity.ACT,
    Severity.WATCH,
    Severity.NORMAL,
    Severity.NO_VERDICT,
)
_MINUS: Final = "\N{MINUS SIGN}"
_NOT_ENOUGH: Final = "\N{EN DASH}"


@dataclass(frozen=True, slots=True)
class FigureLine:
    """One figure by the set in force and by the draft. ``note`` says what it rests on."""

    name: str
    before: str
    after: str
    change: str
    note: str = ""
    severity: Severity | None = None


def count_lines(latest: Latest) -> list[FigureLine]:
    """The boxes by severity, worst first."""
    lines = []
    for severity in ORDER:
        before, after = latest.before.get(severity, 0), latest.after.get(severity, 0)
        change = signed(after - before)
        lines.append(FigureLine(severity.word, str(before), str(after), change, severity=severity))
    return lines


def year_lines(year: LastYear) -> list[FigureLine]:
    """Alarms a month, findings caught and missed, and the share of healthy samples flagged."""
    months = len(year.months) or 1
    before = sum(one.before for one in year.months) / months
    after = sum(one.after for one in year.months) / months
    old, new = year.findings_before, year.findings_after
    lines = [
        FigureLine(
            "Alarms a month",
            f"{before:.1f}",
            f"{after:.1f}",
            signed(after - before, places=1),
            f"Act or Urgent, {year.samples} samples from {year.since} to {year.until}",
        )
    ]
    if old.caught + old.missed:
        lines += [
            FigureLine("Faults caught", *_pair(old.caught, new.caught), findings_note(year)),
            FigureLine("Faults missed", *_pair(old.missed, new.missed), findings_note(year)),
        ]
    if old.false_alarms or new.false_alarms:
        lines.append(
            FigureLine(
                "False alarms",
                *_pair(old.false_alarms, new.false_alarms),
                "Alarms on which a person looked and found nothing",
            )
        )
    lines.append(_budget_line(year.budget_before, year.budget_after))
    return lines


def findings_note(year: LastYear) -> str:
    """What the count of findings rests on."""
    count = year.findings_after.caught + year.findings_after.missed
    if not count:
        return "No confirmed fault is recorded in the year, so nothing can be caught or missed."
    word = "fault" if count == 1 else "faults"
    return f"Of {count} confirmed {word} found in the year."


def _budget_line(before: Budget, after: Budget) -> FigureLine:
    return FigureLine(
        "Healthy flagged",
        share_text(before.measured),
        share_text(after.measured),
        _points(before.measured, after.measured),
        "Samples of the year with no fault known, at Watch or worse",
    )


def budget_note(year: LastYear) -> str:
    """The interval of the share of healthy samples flagged, and what it means in a month."""
    budget = year.budget_after
    if budget.measured is None or budget.low is None or budget.high is None:
        return "No sample of the year is known to be healthy, so no share can be given."
    told = (
        f"The draft flags {share_text(budget.low)} to {share_text(budget.high)} (95 %) "
        f"of {budget.healthy} healthy samples"
    )
    if budget.per_month is not None:
        told += f", {budget.per_month:.1f} a month"
    return f"{told}."


def _pair(before: int, after: int) -> tuple[str, str, str]:
    return str(before), str(after), signed(after - before)


def signed(change: float, *, places: int = 0) -> str:
    """A difference with its sign; nothing where there is none.

    >>> signed(3), signed(0), signed(0.04, places=1)
    ('+3', '', '')
    """
    text = f"{abs(change):.{places}f}"
    if not float(text):
        return ""
    return f"+{text}" if change > 0 else f"{_MINUS}{text}"


def share_text(share: float | None) -> str:
    """A share in percent; a dash where it cannot be said.

    >>> share_text(0.0212), share_text(0.00042)
    ('2.1 %', '0.04 %')
    """
    if share is None:
        return _NOT_ENOUGH
    percent = 100 * share
    return f"{percent:.2f} %" if 0 < percent < 1 else f"{percent:.1f} %"


def _points(before: float | None, after: float | None) -> str:
    if before is None or after is None:
        return ""
    return signed(100 * (after - before), places=1)


def moves_sorted(latest: Latest) -> list[WhatIfMove]:
    """The boxes that move, worst verdict first, those that get worse before those that get better.

    A manager is asked for first what the draft would newly ask of them.
    """
    return sorted(
        latest.moves,
        key=lambda one: (one.after <= one.before, -int(one.after), one.machine, one.compartment),
    )


def month_text(month: date) -> str:
    """A month as the axis of a small chart says it: "2026-03"."""
    return f"{month:%Y-%m}"
