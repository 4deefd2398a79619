"""The use cases of keyed results, imported when first called."""

from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import TYPE_CHECKING

from fluiddesk.services.workplace import Workplace

if TYPE_CHECKING:
    from fluiddesk.services.changes import Changes
    from fluiddesk.services.event_questions import EventAnswer, EventQuestion
    from fluiddesk.services.keyed_results.basis import SecondEntry
    from fluiddesk.services.keyed_results.facts import (
        Answer,
        Checked,
        Draft,
        KeyWarning,
        OpenReport,
        ResultsQueue,
        SavedReport,
    )
    from fluiddesk.services.lab_intake.facts import IntakeResult


@dataclass(frozen=True, kw_only=True)
class KeyingCalls:
    """What the clerk's desk asks of the services, on one workplace."""

    place: Workplace

    def queue(self, *, today: date) -> "ResultsQueue":
        """Everything that waits for the clerk."""
        from fluiddesk.services.keyed_results.queue import results_queue

        return results_queue(self.place, today=today)

    def open_report(self, code: str, *, layout: str, today: date) -> "OpenReport":
        """The bottle of a code, with the grid of its report."""
        from fluiddesk.services.keyed_results.open_report import open_report

        return open_report(self.place, code, layout=layout, today=today)

    def layout_of(self, laboratory: str) -> str:
        """The first form of a laboratory; empty where it has none."""
        from fluiddesk.services.keyed_results.open_report import keying_layouts

        known = (one.name for one in keying_layouts(self.place) if one.laboratory == laboratory)
        return next(known, "")

    def open_draft(self, report: "OpenReport", *, moment: datetime) -> "Draft":
        """The draft begun for a bottle, or a new one."""
        from fluiddesk.services.keyed_results.drafts import open_draft

        return open_draft(self.place, report, moment=moment)

    def keep(self, report: "OpenReport", draft: "Draft", *, moment: datetime) -> "Draft":
        """Save a draft as it stands."""
        from fluiddesk.services.keyed_results.drafts import keep_draft

        return keep_draft(self.place, report, draft, moment=moment)

    def check(self, report: "OpenReport", draft: "Draft") -> "Checked":
        """Every warning about what was typed so far."""
        from fluiddesk.services.keyed_results.checking import check_report

        return check_report(report, draft)

    def answer(
        self,
        report: "OpenReport",
        draft: "Draft",
        warning: "KeyWarning",
        answer: "Answer",
        *,
        moment: datetime,
    ) -> "Draft":
        """Keep the clerk's answer to a warning."""
        from fluiddesk.services.keyed_results.drafts import answer_warning

        return answer_warning(self.place, report, draft, warning, answer, moment=moment)

    def enter_second(
        self, report: "OpenReport", draft: "Draft", key: str, text: str, *, moment: datetime
    ) -> "Draft":
        """Keep the second entry of a value."""
        from fluiddesk.services.keyed_results.second_entry import enter_second

        return enter_second(self.place, report, draft, key, text, moment=moment)

    def park(self, draft: "Draft", *, note: str, moment: datetime) -> "Draft":
        """Put a report aside until somebody knows more."""
        from fluiddesk.services.keyed_results.drafts import park_draft

        return park_draft(self.place, draft, note=note, moment=moment)

    def drop(self, draft: "Draft", *, moment: datetime) -> None:
        """Give a draft up."""
        from fluiddesk.services.keyed_results.drafts import drop_draft

        drop_draft(self.place, draft, moment=moment)

    def move(
        self, report: "OpenReport", draft: "Draft", code: str, *, moment: datetime, today: date
    ) -> "tuple[OpenReport, Draft]":
        """Hand what was typed to the bottle it belongs to, and drop the draft of this one.

        Where a report was begun for that bottle, both drafts stay as they are. Should the program
        end between the steps, both are there: nothing is lost.
        """
        other = self.open_report(code, layout=report.layout, today=today)
        found = self.open_draft(other, moment=moment)
        if any(text.strip() for text in found.cells.values()):
            return other, found
        heads = {**draft.heads, **found.heads}
        given = replace(found, heads=heads, cells=dict(draft.cells))
        found = self.keep(other, given, moment=moment)
        self.drop(draft, moment=moment)
        return other, found

    def save(
        self, report: "OpenReport", draft: "Draft", *, moment: datetime, today: date
    ) -> "SavedReport":
        """Save a report whose warnings are all answered."""
        from fluiddesk.services.keyed_results.saving import save_report

        return save_report(self.place, report, draft, moment=moment, today=today)

    def undo(self, intake_id: bytes, *, moment: datetime, today: date) -> "IntakeResult":
        """Supersede what a report saved by what stood before."""
        from fluiddesk.services.lab_intake.take_in import undo_intake

        return undo_intake(self.place, intake_id, moment=moment, today=today)

    def second_entry(self) -> "SecondEntry":
        """How values that decide a verdict are entered twice."""
        from fluiddesk.services.keyed_results.second_entry import second_entry

        return second_entry(self.place)

    def set_second_entry(self, setting: "SecondEntry", *, moment: datetime) -> None:
        """Change how values that decide a verdict are entered twice."""
        from fluiddesk.services.keyed_results.second_entry import set_second_entry

        set_second_entry(self.place, setting, moment=moment)

    def answer_question(
        self,
        question: "EventQuestion",
        answer: "EventAnswer",
        *,
        on: date | None,
        moment: datetime,
        today: date,
    ) -> "Changes":
        """Keep what the clerk says of a fluid change nobody recorded."""
        from fluiddesk.services.event_questions import answer_question

        return answer_question(self.place, question.id, answer, on=on, moment=moment, today=today)
