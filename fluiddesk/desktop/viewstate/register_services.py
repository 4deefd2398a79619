"""The use cases of the Register page, imported when first called: the page opens at once."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path
from typing import Any, cast

from fluiddesk.desktop.viewstate.record_form import Values
from fluiddesk.desktop.viewstate.record_history import (
    CORRECT,
    REMOVE,
    VOID,
    HistoryLine,
    read_history,
)
from fluiddesk.desktop.viewstate.record_trail import (
    TrailLine,
    attach_paper,
    open_paper,
    owner_of,
    read_trail,
)
from fluiddesk.desktop.viewstate.record_values import text_of, value_for
from fluiddesk.desktop.viewstate.register_calls import Telling
from fluiddesk.desktop.viewstate.register_words import Record, key_of
from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.fleet import EventKind
from fluiddesk.domain.identity import SiteId
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.register.facts import (
    NEW,
    BatchFacts,
    CompartmentFacts,
    EventFacts,
    FitFacts,
    FluidFacts,
    LaboratoryFacts,
    MachineFacts,
    MeterFacts,
    PointFacts,
    ReadingFacts,
    RegisterFacts,
    SiteFacts,
    TankFacts,
    TestListFacts,
    UserFacts,
)
from fluiddesk.services.register.saving import Saved
from fluiddesk.services.register_files.facts import (
    ExportedFile,
    RegisterImported,
    RegisterPreview,
)
from fluiddesk.services.workplace import Workplace

Save = Callable[..., Saved]

_NOTHING_JUDGED = Changes(subjects=frozenset({Subject.FLEET}))
"""Pages that list the register read it again; verdicts stay."""


@dataclass(frozen=True, kw_only=True)
class RegisterServices:
    """What the page asks of the services, on one workplace."""

    place: Workplace

    def facts(self, *, today: date) -> RegisterFacts:
        """The register as it stands."""
        from fluiddesk.services.register.read import register_facts

        return register_facts(self.place, today=today)

    def layouts(self) -> tuple[str, ...]:
        """The names of the layouts a laboratory may report in."""
        from fluiddesk.services.lab_intake.preview import layout_names

        return tuple(layout_names(self.place))

    def save(self, record: Record, *, moment: datetime, today: date) -> Saved:
        """Add a new record or save an edited one; a new machine comes with its boxes."""
        return _saver(record)(self.place, record, today=today, moment=moment)

    def act(
        self, key: str, record: Record, values: Values, *, moment: datetime, today: date
    ) -> Saved:
        """Do one of the actions of ``register_actions`` with what its form says."""
        return _ACTIONS[key](self.place, record, values, today=today, moment=moment)

    def history(
        self, record: Record, *, fluids: Mapping[str, str], today: date
    ) -> tuple[HistoryLine, ...]:
        """What happened to a machine or a box, newest first; ``fluids`` are names by code."""
        return read_history(self.place, record, fluids=fluids, today=today)

    def act_on(
        self, key: str, line: HistoryLine, values: Values, *, moment: datetime, today: date
    ) -> Saved:
        """Void a reading, correct an event or take a component out, as its form says."""
        return _DEEDS[key](self.place, line.subject, values, today=today, moment=moment)

    def undo(self, record: Record, *, moment: datetime, today: date) -> Saved:
        """Take back the last change of a record by a change of its own."""
        from fluiddesk.services.register.history import undo_last_change

        kind, key = key_of(record)
        site = getattr(record, "site", SiteId(0))
        done = undo_last_change(self.place, kind, key, site=site, today=today, moment=moment)
        return Saved(changes=done, key=key)

    def trail(self, record: Record) -> tuple[TrailLine, ...]:
        """The papers, remarks and changes of a record, newest first."""
        return read_trail(self.place, record)

    def attach(self, record: Record, path: Path, *, moment: datetime) -> Saved:
        """Keep a copy of a PDF or picture with a record."""
        attach_paper(self.place, record, path, moment=moment)
        return Saved(changes=_NOTHING_JUDGED, key=key_of(record)[1])

    def open_paper(self, paper: bytes) -> Path:
        """Copy a paper out, to be opened by another program."""
        return open_paper(self.place, paper)

    def preview_files(
        self, paths: Sequence[Path], *, today: date, progress: Telling
    ) -> RegisterPreview:
        """Try register files on the register; nothing is changed."""
        from fluiddesk.services.register_files.take_in import preview_register_files

        return preview_register_files(self.place, paths, today=today, progress=progress)

    def import_files(
        self,
        paths: Sequence[Path],
        *,
        preview: RegisterPreview | None = None,
        moment: datetime,
        today: date,
        progress: Telling,
    ) -> RegisterImported:
        """Import register files in one piece."""
        from fluiddesk.services.register_files.take_in import import_register_files

        return import_register_files(
            self.place, paths, today=today, moment=moment, preview=preview, progress=progress
        )

    def export_files(self, folder: Path) -> Sequence[ExportedFile]:
        """Write the register as files."""
        from fluiddesk.services.register_files.export import export_register

        return export_register(self.place, folder)


def _saver(record: Record) -> Save:
    """The use case that saves a kind of record."""
    from fluiddesk.services.register import boxes, desk_lists, fluids, machines, meters, sites
    from fluiddesk.services.register.templates import add_machine_by_template

    if isinstance(record, MachineFacts) and record.version == NEW:
        return add_machine_by_template
    savers: Mapping[type[Record], Save] = {
        SiteFacts: sites.save_site,
        MachineFacts: machines.save_machine,
        CompartmentFacts: boxes.save_compartment,
        PointFacts: boxes.save_point,
        MeterFacts: meters.save_meter,
        FluidFacts: fluids.save_fluid,
        TankFacts: fluids.save_tank,
        BatchFacts: fluids.save_batch,
        LaboratoryFacts: _save_laboratory,
        TestListFacts: desk_lists.save_test_list,
        UserFacts: desk_lists.save_user,
    }
    return savers[type(record)]


def _save_laboratory(
    place: Workplace, record: LaboratoryFacts, *, today: date, moment: datetime
) -> Saved:
    """Save a laboratory, and tell what other days on it do to the chance to catch a fault."""
    from fluiddesk.services.catch_chances.telling import lab_record, lab_told
    from fluiddesk.services.register.desk_lists import save_laboratory

    code = record.code.strip()
    before = lab_record(place, code)
    saved = save_laboratory(place, record, today=today, moment=moment)
    told = lab_told(place, before=before, after=lab_record(place, code), today=today)
    return replace(saved, told=told)


def _reading(
    place: Workplace, record: Record, values: Values, *, today: date, moment: datetime
) -> Saved:
    from fluiddesk.services.register.meters import add_reading

    machine = cast("MachineFacts", record)
    facts = _filled(ReadingFacts(site=machine.site, machine=machine.id), values)
    return add_reading(place, facts, today=today, moment=moment)


def _meter(
    place: Workplace, record: Record, values: Values, *, today: date, moment: datetime
) -> Saved:
    from fluiddesk.services.register.meters import replace_meter

    machine = cast("MachineFacts", record)
    ends = cast("float | None", values["ends_last_at"])
    told = {key: value for key, value in values.items() if key != "ends_last_at"}
    facts = _filled(MeterFacts(site=machine.site, machine=machine.id), told)
    return replace_meter(place, facts, ends_last_at=ends, today=today, moment=moment)


def _transfer(
    place: Workplace, record: Record, values: Values, *, today: date, moment: datetime
) -> Saved:
    from fluiddesk.services.register.transfer import transfer_machine

    to, day = SiteId(int(str(values["to"]))), values["on"]
    return transfer_machine(
        place,
        cast("MachineFacts", record).id,
        to=to,
        on=day if isinstance(day, date) else today,
        today=today,
        moment=moment,
    )


def _fit(
    place: Workplace, record: Record, values: Values, *, today: date, moment: datetime
) -> Saved:
    from fluiddesk.services.register.components import fit_component

    box = cast("CompartmentFacts", record)
    facts = _filled(FitFacts(site=box.site, compartment=box.id), values)
    return fit_component(place, facts, today=today, moment=moment)


def _remove(
    place: Workplace, record: Record | FitFacts, values: Values, *, today: date, moment: datetime
) -> Saved:
    from fluiddesk.services.register.components import remove_component

    day, reason = values["on"], str(values["reason"] or "")
    box = (
        record.compartment if isinstance(record, FitFacts) else cast("CompartmentFacts", record).id
    )
    return remove_component(
        place,
        box,
        on=day if isinstance(day, date) else today,
        reason=reason,
        today=today,
        moment=moment,
    )


def _event(
    place: Workplace, record: Record, values: Values, *, today: date, moment: datetime
) -> Saved:
    from fluiddesk.services.register.boxes import add_event

    box = cast("CompartmentFacts", record)
    facts = _filled(EventFacts(site=box.site, compartment=box.id), values)
    if facts.kind not in (EventKind.FLUID_CHANGE, EventKind.TOP_UP):
        facts = replace(facts, fluid="")
    return add_event(place, facts, today=today, moment=moment)


def _void(
    place: Workplace, subject: ReadingFacts, values: Values, *, today: date, moment: datetime
) -> Saved:
    from fluiddesk.services.register.meters import void_reading

    reason = str(values["reason"] or "")
    return void_reading(place, subject, reason=reason, today=today, moment=moment)


def _correct(
    place: Workplace, subject: EventFacts, values: Values, *, today: date, moment: datetime
) -> Saved:
    """Supersede an event; its hours are read off anew where its day moves."""
    from fluiddesk.services.register.boxes import add_event

    facts = _filled(subject, values)
    if facts.happened_on != subject.happened_on:
        facts = replace(facts, true_hours=None)
    if facts.kind not in (EventKind.FLUID_CHANGE, EventKind.TOP_UP):
        facts = replace(facts, fluid="")
    return add_event(place, facts, supersedes=subject.id, today=today, moment=moment)


def _reference(
    place: Workplace, record: Record, values: Values, *, today: date, moment: datetime
) -> Saved:
    from fluiddesk.services.register.fluids import add_reference

    day = values["valid_from"]
    return add_reference(
        place,
        cast("FluidFacts", record).code,
        valid_from=day if isinstance(day, date) else today,
        values=_numbers(str(values["values"] or "")),
        source=str(values["source"] or ""),
        today=today,
        moment=moment,
    )


def _batch(
    place: Workplace, record: Record, values: Values, *, today: date, moment: datetime
) -> Saved:
    from fluiddesk.services.register.fluids import save_batch

    facts = BatchFacts(site=SiteId(0), fluid=cast("FluidFacts", record).code)
    return save_batch(place, _filled(facts, values), today=today, moment=moment)


def _remark(
    place: Workplace, record: Record, values: Values, *, today: date, moment: datetime
) -> Saved:
    from fluiddesk.services.papers.remarks import add_remark

    del today
    owner = owner_of(record)
    if owner is not None:
        add_remark(place, owner, str(values["words"] or ""), moment=moment)
    return Saved(changes=_NOTHING_JUDGED, key=key_of(record)[1])


def _filled(facts: Any, values: Values) -> Any:
    """Facts with what a form says, each value in the type of the field it replaces."""
    told = {key: value_for(getattr(facts, key), value, key) for key, value in values.items()}
    return replace(facts, **told)


def _numbers(said: str) -> Mapping[str, float]:
    """Read "KV100 14.5, Zn 1100" as values by analyte."""
    pairs = value_for({}, said, "values")
    found: dict[str, float] = {}
    for code, value in cast("Mapping[str, object]", pairs).items():
        try:
            found[code] = float(text_of(value))
        except ValueError:
            raise OperatorError(f'"{code} {value}" has no number. Write a value.') from None
    return found


_ACTIONS: Mapping[str, Save] = {
    "reading": _reading,
    "meter": _meter,
    "transfer": _transfer,
    "fit": _fit,
    "remove": _remove,
    "event": _event,
    "reference": _reference,
    "batch": _batch,
    "remark": _remark,
}
_DEEDS: Mapping[str, Save] = {VOID: _void, CORRECT: _correct, REMOVE: _remove}
