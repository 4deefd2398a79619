"""What the Sampling page asks of the services."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from fluiddesk.domain.identity import CompartmentId, MachineId, SiteId
from fluiddesk.domain.samples import SampleReason
from fluiddesk.services.changes import Changes
from fluiddesk.services.fleet_condition import FleetCondition
from fluiddesk.services.visits.facts import Crew, ServiceDate, Visit, VisitPlan
from fluiddesk.services.visits.plan import PlanWishes
from fluiddesk.services.workplace import Workplace

if TYPE_CHECKING:
    from fluiddesk.services.catch_chances.facts import ChanceColumns
    from fluiddesk.services.due_bands import DueBands
    from fluiddesk.services.due_notes import DueNote
    from fluiddesk.services.interval_compliance.facts import EventColumns
    from fluiddesk.services.register.saving import RegisterFaultsError, Saved
    from fluiddesk.services.special_by_hand import Special, SpecialWish
    from fluiddesk.services.takings.drafts import SheetDraft
    from fluiddesk.services.takings.facts import Recorded, VisitDone
    from fluiddesk.services.visit_papers.facts import Kit, Label, LabelStock, Sheet
    from fluiddesk.services.visits.book import Issued, Kept
    from fluiddesk.services.visits.left_behind import MovedOn
    from fluiddesk.services.visits.worthwhile import WorthLine


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownMachine:
    """A machine that a service day can be given to."""

    id: MachineId
    site: SiteId
    code: str
    kind: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SamplingFacts:
    """What the page shows of the plan: what is due, what is proposed, and what is kept."""

    fleet: FleetCondition
    plan: VisitPlan
    kept: tuple[Visit, ...]
    crews: tuple[Crew, ...]
    service_days: tuple[ServiceDate, ...]
    worth: "tuple[WorthLine, ...]"
    sites: Mapping[SiteId, str]
    machines: tuple[KnownMachine, ...]
    bands: "DueBands | None" = None
    drafts: "Mapping[bytes, SheetDraft]" = field(default_factory=dict)
    notes: "tuple[DueNote, ...]" = ()
    specials: "tuple[Special, ...]" = ()


@dataclass(frozen=True, kw_only=True)
class SamplingCalls:
    """The use cases of the page on one workplace. Every one may raise an ``OperatorError``.

    ``own_folder`` holds procedures and label stocks of the site's own.
    """

    place: Workplace
    own_folder: Path | None = None

    def facts(self, wishes: PlanWishes, *, today: date) -> SamplingFacts:
        """What is due, proposed and kept."""
        from fluiddesk.services.due_bands import due_bands
        from fluiddesk.services.due_notes import due_notes
        from fluiddesk.services.fleet_condition import fleet_condition
        from fluiddesk.services.special_by_hand import specials
        from fluiddesk.services.takings.drafts import sheet_drafts
        from fluiddesk.services.visits.crews import crews
        from fluiddesk.services.visits.plan import propose_visits
        from fluiddesk.services.visits.service_days import service_dates
        from fluiddesk.services.visits.worthwhile import worthwhile_bottles

        fleet = fleet_condition(self.place, today=today)
        return SamplingFacts(
            fleet=fleet,
            plan=propose_visits(self.place, today=today, wishes=wishes),
            kept=self.kept(today=today),
            crews=crews(self.place),
            service_days=service_dates(self.place),
            worth=worthwhile_bottles(self.place, today=today),
            sites={SiteId(row.site_id): row.site for row in fleet.rows},
            machines=_machines(fleet),
            bands=due_bands(self.place, fleet),
            drafts=sheet_drafts(self.place),
            notes=due_notes(self.place),
            specials=specials(self.place, today=today),
        )

    def kept(self, *, today: date) -> tuple[Visit, ...]:
        """The visits that are planned or issued."""
        from fluiddesk.services.visits.read import visits

        return visits(self.place, today=today)

    def keep(self, visits: Sequence[Visit], *, moment: datetime) -> "Kept":
        """Keep what is proposed: new visits, and bottles that join kept ones."""
        from fluiddesk.services.visits.book import keep_proposals

        return keep_proposals(self.place, visits, moment=moment)

    def move_on(
        self, ids: Collection[bytes], *, works_weekends: bool, today: date, moment: datetime
    ) -> "MovedOn":
        """Move visits that were left behind to the next days the crews have time for."""
        from fluiddesk.services.visits.left_behind import move_left_behind

        return move_left_behind(
            self.place, ids=ids, works_weekends=works_weekends, today=today, moment=moment
        )

    def move(
        self,
        visit: Visit,
        *,
        to: date,
        today: date,
        moment: datetime,
        crew: bytes | None = None,
    ) -> Changes:
        """Move a kept visit to another day."""
        from fluiddesk.services.visits.book import move_visit

        return move_visit(
            self.place,
            visit.id,
            to=to,
            version=visit.version,
            today=today,
            moment=moment,
            crew=crew,
        )

    def give_up(self, visits: Sequence[Visit], *, why: str, moment: datetime) -> Changes:
        """Give visits up, one after the other."""
        from fluiddesk.services.visits.book import CHANGED, drop_visit

        for one in visits:
            drop_visit(self.place, one.id, why=why, version=one.version, moment=moment)
        return CHANGED

    def issue(self, ids: Sequence[bytes], *, today: date, moment: datetime) -> "Issued":
        """Give every open bottle of some visits its code."""
        from fluiddesk.services.visits.book import issue_bottles

        return issue_bottles(self.place, ids, today=today, moment=moment)

    def record(
        self, done: "VisitDone", *, today: date, moment: datetime
    ) -> "Recorded | RegisterFaultsError":
        """Record a visit from its sheet; what is missing on it is an answer too."""
        from fluiddesk.services.register.saving import RegisterFaultsError
        from fluiddesk.services.takings.record import record_visit

        try:
            return record_visit(self.place, done, today=today, moment=moment)
        except RegisterFaultsError as faults:
            return faults

    def sheet_draft(self, visit: bytes) -> "SheetDraft | None":
        """What is keyed of a visit's sheet so far."""
        from fluiddesk.services.takings.drafts import sheet_draft

        return sheet_draft(self.place, visit)

    def keep_sheet(
        self, draft: "SheetDraft", *, moment: datetime, writes_over: bool = False
    ) -> "SheetDraft":
        """Save a sheet as typed so far."""
        from fluiddesk.services.takings.drafts import keep_sheet

        return keep_sheet(self.place, draft, moment=moment, writes_over=writes_over)

    def drop_sheet(self, draft: "SheetDraft", *, why: str, moment: datetime) -> None:
        """Give up what was keyed of a sheet."""
        from fluiddesk.services.takings.drafts import drop_sheet

        drop_sheet(self.place, draft, why=why, moment=moment)

    def add_box(
        self, visit: bytes, box: CompartmentId, *, reason: SampleReason, moment: datetime
    ) -> Changes:
        """Put a box of the machine on a kept visit too."""
        from fluiddesk.services.visits.boxes import add_box

        return add_box(self.place, visit, box, reason=reason, moment=moment)

    def lay(
        self, boxes: Sequence[CompartmentId], *, on: date, today: date, moment: datetime
    ) -> "Kept":
        """Keep a visit laid by hand to each machine of some boxes."""
        from fluiddesk.services.visits.by_hand import visits_by_hand

        return self.keep(visits_by_hand(self.place, boxes, on=on, today=today), moment=moment)

    def join(self, proposal: Visit, kept: Visit, *, moment: datetime) -> "Kept":
        """Put the bottles of a proposal on a kept visit to the same machine."""
        return self.keep([replace(proposal, joins=kept.id)], moment=moment)

    def move_box(self, box: bytes, to_visit: bytes, *, moment: datetime) -> Changes:
        """Move an open bottle to another visit of its machine."""
        from fluiddesk.services.visits.boxes import move_box

        return move_box(self.place, box, to_visit, moment=moment)

    def take_off(self, box: bytes, *, why: str, moment: datetime) -> Changes:
        """Take an open bottle off its visit."""
        from fluiddesk.services.visits.boxes import remove_box

        return remove_box(self.place, box, why=why, moment=moment)

    def note_due(
        self,
        box: CompartmentId,
        *,
        due_on: date,
        is_excused: bool,
        reason: str,
        note: str,
        moment: datetime,
    ) -> Changes:
        """Say why a due sample was missed, or that none was owed."""
        from fluiddesk.services.visits.boxes import note_due

        return note_due(
            self.place,
            box,
            due_on=due_on,
            is_excused=is_excused,
            reason=reason,
            note=note,
            moment=moment,
        )

    def void_note(self, note: bytes, *, why: str, moment: datetime) -> Changes:
        """Take back a reason that was written beside a due event by mistake."""
        from fluiddesk.services.due_notes import void_due_note

        return void_due_note(self.place, note, why=why, moment=moment)

    def add_special(self, wish: "SpecialWish", *, today: date, moment: datetime) -> "Saved":
        """Make a box due sooner for a while."""
        from fluiddesk.services.special_by_hand import add_special

        return add_special(self.place, wish, today=today, moment=moment)

    def end_special(self, special: bytes, *, why: str, today: date, moment: datetime) -> Changes:
        """Let the usual interval hold again."""
        from fluiddesk.services.special_by_hand import end_special

        return end_special(self.place, special, why=why, today=today, moment=moment)

    def undo_special(self, special: bytes, *, moment: datetime) -> Changes:
        """Take the last act on a special interval back."""
        from fluiddesk.services.special_by_hand import undo_special

        return undo_special(self.place, special, moment=moment)

    def save_crew(self, crew: Crew, *, moment: datetime) -> bytes:
        """Add a crew or change one."""
        from fluiddesk.services.visits.crews import save_crew

        return save_crew(self.place, crew, moment=moment)

    def save_service_day(self, service: ServiceDate, *, moment: datetime) -> bytes:
        """Add a service day, change one, or take it back."""
        from fluiddesk.services.visits.service_days import save_service_date

        return save_service_date(self.place, service, moment=moment)

    def sheets(self, ids: Collection[bytes], *, today: date) -> "tuple[Sheet, ...]":
        """The sheets of some visits."""
        from fluiddesk.services.visit_papers.sheets import visit_sheets

        return visit_sheets(self.place, tuple(ids), today=today, own_folder=self.own_folder)

    def kit(self, sheets: "Sequence[Sheet]") -> "Kit":
        """What a round needs."""
        from fluiddesk.services.visit_papers.sheets import kit_list

        return kit_list(sheets, own_folder=self.own_folder)

    def labels(self, ids: Collection[bytes], *, today: date) -> "tuple[Label, ...]":
        """The labels of the issued bottles of some visits."""
        from fluiddesk.services.visit_papers.labels import visit_labels

        return visit_labels(self.place, tuple(ids), today=today)

    def label_stocks(self) -> "dict[str, LabelStock]":
        """Every label stock by its code."""
        from fluiddesk.services.visit_papers.procedures import label_stocks

        return label_stocks(self.own_folder)

    def events(self, *, today: date) -> "EventColumns":
        """Every due event of the fleet."""
        from fluiddesk.services.interval_compliance.events import event_columns

        return event_columns(self.place, today=today)

    def chances(self, *, today: date) -> "ChanceColumns":
        """What the chance to catch a fault follows from, for every box."""
        from fluiddesk.services.catch_chances.read import chance_columns

        return chance_columns(self.place, today=today)


def _machines(fleet: FleetCondition) -> tuple[KnownMachine, ...]:
    found = {
        row.machine_id: KnownMachine(
            id=MachineId(row.machine_id),
            site=SiteId(row.site_id),
            code=row.machine,
            kind=row.machine_kind,
        )
        for row in fleet.rows
    }
    return tuple(found.values())
