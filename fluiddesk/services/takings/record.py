"""Records a visit from its sheet: samples taken or not, the meter, top-ups and changes, trust."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, time
from typing import Any, Final

from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.fleet import Certainty, Compartment, EventKind
from fluiddesk.domain.identity import SampleId
from fluiddesk.domain.samples import DrawMethod, Sample, SampleState
from fluiddesk.domain.severity import Trust
from fluiddesk.domain.trust.taking import Drawing, notes_on_taking, trust_of_taking
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.fill_renewal import renew_fills
from fluiddesk.services.meter_seen import age_at, doubts_at, keep_reading
from fluiddesk.services.register.derive import rejudge
from fluiddesk.services.register.saving import Faults
from fluiddesk.services.sample_hours import fill_at
from fluiddesk.services.takings.facts import BottleTaken, Recorded, VisitDone
from fluiddesk.services.visits.book import add_step
from fluiddesk.services.visits.facts import BoxOutcome, VisitState
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import Desk, EventRecord, RecordKey, RecordKind

_OPEN: Final = (VisitState.PLANNED, VisitState.ISSUED)
_TIME: Final = re.compile(r"([01]\d|2[0-3]):[0-5]\d")
_MIXED_KINDS: Final = "gear"


def record_visit(place: Workplace, done: VisitDone, *, today: date, moment: datetime) -> Recorded:
    """Record what was done on a visit, in one transaction.

    Every bottle taken becomes a taken sample with its meter value, hours and trust; litres added,
    a change of fluid or filter become recorded events of that day (a change comes after the
    sample, as is usual). A bottle not taken keeps its reason. The visit is done once no bottle is
    open.

    Raises:
        RegisterFaultsError: every must of the sheet that is missing or wrong, all at once.
        MeterReadingError: the meter cannot show that.
        OperatorError: the visit was recorded or given up before.
    """
    [recorded] = record_visits(place, [done], today=today, moment=moment)
    return recorded


def record_visits(
    place: Workplace, several: Sequence[VisitDone], *, today: date, moment: datetime
) -> tuple[Recorded, ...]:
    """Record several visits in one transaction: all of them or none.

    Raises:
        OperatorError: as ``record_visit`` does, of the first visit that is refused.
    """
    with place.store.transaction(who=place.who, moment=moment) as desk:
        return tuple(_record(desk, place, one, today=today) for one in several)


def _record(desk: Desk, place: Workplace, done: VisitDone, *, today: date) -> Recorded:
    visit = _visit(desk, done.visit_id)
    boxes = {
        row["id"]: row for row in desk.register.all(RecordKind.VISIT_BOX, visit_id=done.visit_id)
    }
    work = _Work(desk, place, done, visit)
    _refuse_missing(done, boxes, work.name, today=today)
    for bottle in done.bottles:
        work.settle(bottle, boxes[bottle.visit_box_id])
    left = sum(
        row["outcome"] == BoxOutcome.OPEN
        for row in desk.register.all(RecordKind.VISIT_BOX, visit_id=done.visit_id)
    )
    if not left:
        values = {"state": VisitState.DONE.value, "done_on": done.taken_on}
        desk.register.change(work.key, values, version=None, name=work.name)
    desk.taking_drafts.close(done.visit_id, name=f"sheet of the {work.name}", why="recorded")
    return work.recorded(still_open=left)


def _visit(desk: Desk, visit_id: bytes) -> Mapping[str, Any]:
    found = desk.register.all(RecordKind.VISIT, id=visit_id)
    if not found or found[0]["state"] not in _OPEN:
        raise OperatorError(
            "This visit was recorded or given up before. Read the plan again; correct a sample on "
            "its compartment's page."
        )
    return found[0]


def _refuse_missing(
    done: VisitDone,
    boxes: Mapping[bytes, Mapping[str, Any]],
    name: str,
    *,
    today: date,
) -> None:
    faults = Faults(name[:1].upper() + name[1:])
    faults.needs_day("taken_on", done.taken_on, "of the visit", today=today)
    faults.needs_text("taken_by", done.taken_by, "Who took the samples")
    if done.taken_at and not _TIME.fullmatch(done.taken_at):
        text = f'The time "{done.taken_at}" is no time of day. Write it as 14:30.'
        faults.add("taken_at", done.taken_at, text)
    takes = [one for one in done.bottles if one.is_taken]
    if takes and done.meter_value is None and not done.meter_unreadable:
        text = "The meter is missing. Key it, or say that it could not be read."
        faults.add("meter_value", None, text)
    for bottle in done.bottles:
        row = boxes.get(bottle.visit_box_id)
        if row is None or row["outcome"] != BoxOutcome.OPEN:
            faults.add("bottle", "", "A bottle is not open on this visit. Read the visit again.")
            continue
        _refuse_bottle(faults, bottle, int(row["place"]), has_code=row["sample_id"] is not None)
    faults.refuse()


def _refuse_bottle(faults: Faults, bottle: BottleTaken, place: int, *, has_code: bool) -> None:
    if not bottle.is_taken:
        faults.needs_text(f"why_not_{place}", bottle.why_not, f"Why bottle {place} was not taken")
        return
    if not has_code:
        text = f"Bottle {place} has no label yet. Issue the bottles of the visit first."
        faults.add(f"bottle_{place}", "", text)
    if bottle.fluid_changed is None:
        text = f"Whether the fluid was changed is missing for bottle {place}. Say yes or no."
        faults.add(f"fluid_changed_{place}", None, text)
    what = f"Litres added (0 is an answer) for bottle {place}"
    faults.needs_number(f"litres_added_{place}", bottle.litres_added, what, high=10_000)


class _Work:
    """Settles the bottles of one visit and remembers what came of them."""

    def __init__(
        self, desk: Desk, place: Workplace, done: VisitDone, visit: Mapping[str, Any]
    ) -> None:
        self._desk, self._place, self._done = desk, place, done
        self.key = RecordKey(RecordKind.VISIT, visit["site_id"], visit["id"])
        machine = RecordKey(RecordKind.MACHINE, visit["site_id"], visit["machine_id"])
        code = desk.register.row(machine, name="machine")["code"]
        self.name = f"visit to {code} on {visit['planned_on'].isoformat()}"
        self._samples: list[Sample] = []
        self._not_taken = 0
        self._suspect: list[tuple[str, str]] = []
        self._warnings: list[str] = []

    def settle(self, bottle: BottleTaken, row: Mapping[str, Any]) -> None:
        """Record one bottle."""
        key = RecordKey(RecordKind.VISIT_BOX, row["site_id"], row["id"])
        name = f"{self.name}: bottle {row['place']}"
        if bottle.is_taken:
            self._take(bottle, row)
            values = {"outcome": BoxOutcome.TAKEN.value, "why_not": ""}
        else:
            self._leave(bottle, row)
            values = {"outcome": BoxOutcome.NOT_TAKEN.value, "why_not": bottle.why_not.strip()}
        self._desk.register.change(key, values, version=None, name=name)

    def _leave(self, bottle: BottleTaken, row: Mapping[str, Any]) -> None:
        self._not_taken += 1
        if row["sample_id"] is not None:
            sample = self._desk.sampling.sample(SampleId(row["sample_id"]))
            left = replace(sample, state=SampleState.NOT_TAKEN)
            self._desk.sampling.edit_sample(left, version=None)
            add_step(
                self._desk, sample.site, [sample.bottle_code], "void", known_by="typed",
                note=bottle.why_not.strip(),
            )  # fmt: skip

    def _take(self, bottle: BottleTaken, row: Mapping[str, Any]) -> None:
        desk, done = self._desk, self._done
        planned = desk.sampling.sample(SampleId(row["sample_id"]))
        box = desk.fleet.compartment(planned.compartment)
        age = age_at(desk, box, done.taken_on, done.meter_value)
        fill, hours = fill_at(desk.fleet.events(box.id), day=done.taken_on, hours=age, printed=None)
        drawing = self._drawing(bottle, box)
        trust, why = trust_of_taking(drawing)
        sample = replace(
            planned,
            state=SampleState.TAKEN,
            taken_on=done.taken_on,
            meter_value=done.meter_value,
            true_hours=age,
            fluid_hours=hours,
            fill_number=fill,
            draw_method=bottle.method,
            trust=trust,
            trust_reason=why,
        )
        desk.sampling.edit_sample(sample, version=None)
        desk.programme_rows.name_sampler(sample.site, sample.id, done.taken_by.strip())
        self._samples.append(sample)
        if trust is not Trust.GOOD:
            self._suspect.append((sample.bottle_code, why))
        self._warnings += [f"{sample.bottle_code}: {one}" for one in notes_on_taking(drawing)]
        if not self._warnings and len(self._samples) == 1:
            self._warnings += doubts_at(desk, box, done.taken_on, done.meter_value)
        keep_reading(
            desk,
            self._place.catalogue,
            box,
            done.taken_on,
            meter=done.meter_value,
            age=age,
        )
        self._keep(bottle, sample)
        self._events(bottle, box, age)
        add_step(
            desk, sample.site, [sample.bottle_code], "taken", known_by="typed", at=self._moment()
        )

    def _drawing(self, bottle: BottleTaken, box: Compartment) -> Drawing:
        kind = self._place.catalogue.compartment_kinds.get(box.kind)
        return Drawing(
            method=bottle.method,
            flushed=bottle.flushed,
            warm=bottle.warm,
            mixed=bottle.mixed,
            fill_level=bottle.fill_level,
            cap_marked=bottle.cap_marked,
            needs_mixing=kind is not None and kind.group == _MIXED_KINDS,
        )

    def _moment(self) -> datetime:
        """When the samples were drawn; noon where the sheet gives no time, never after now."""
        hour = time.fromisoformat(self._done.taken_at or "12:00")
        return min(datetime.combine(self._done.taken_on, hour, UTC), self._desk.moment)

    def _keep(self, bottle: BottleTaken, sample: Sample) -> None:
        self._desk.register.add(
            RecordKey(RecordKind.TAKING, sample.site, sample.id),
            {
                "visit_id": self._done.visit_id,
                "sampling_point_id": bottle.sampling_point_id,
                "taken_at": self._done.taken_at,
                "method": bottle.method.value,
                "run_state": _run_state(bottle.method),
                "flushed": bottle.flushed,
                "warm": bottle.warm,
                "mixed": bottle.mixed,
                "fill_level": bottle.fill_level.value,
                "cap_marked": bottle.cap_marked,
                "litres_added": float(bottle.litres_added or 0.0),
                "fluid_changed": bottle.fluid_changed,
                "filter_changed": bottle.filter_changed,
                "meter_unreadable": self._done.meter_unreadable,
                "taken_by": self._done.taken_by.strip(),
                "note": bottle.note.strip(),
            },
            name=f"taking of {sample.bottle_code}",
        )

    def _events(self, bottle: BottleTaken, box: Compartment, age: float | None) -> None:
        told: list[tuple[EventKind, float | None]] = []
        if bottle.litres_added:
            told.append((EventKind.TOP_UP, float(bottle.litres_added)))
        if bottle.fluid_changed:
            told.append((EventKind.FLUID_CHANGE, None))
        if bottle.filter_changed:
            told.append((EventKind.FILTER_CHANGE, None))
        for kind, litres in told:
            uses_fluid = kind is not EventKind.FILTER_CHANGE
            self._desk.fleet.add_event(
                EventRecord(
                    site=box.site,
                    compartment=box.id,
                    kind=kind,
                    happened_on=self._done.taken_on,
                    certainty=Certainty.RECORDED,
                    source="visit sheet",
                    true_hours=age,
                    litres=litres,
                    fluid=box.fluid if uses_fluid else None,
                )
            )

        if bottle.fluid_changed and renew_fills(
            self._desk, box.id, day=self._done.taken_on, step=1
        ):
            # Samples of later days were recorded before this sheet: they are of the new fill.
            rejudge(self._desk, self._place.catalogue, [box.id], moment=self._desk.moment)

    def recorded(self, *, still_open: int) -> Recorded:
        """What came of it."""
        return Recorded(
            samples=tuple(one.id for one in self._samples),
            not_taken=self._not_taken,
            suspect=tuple(self._suspect),
            warnings=tuple(dict.fromkeys(self._warnings)),
            still_open=still_open,
            changes=Changes(
                subjects=frozenset({Subject.FLEET, Subject.RESULTS}),
                compartments=frozenset(one.compartment for one in self._samples),
            ),
        )


def _run_state(method: DrawMethod) -> str:
    if method is DrawMethod.VALVE_PROBE:
        return "running_idle"
    return "shut_down" if method is DrawMethod.VACUUM_TUBE else ""
