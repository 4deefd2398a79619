"""The forms of the Sampling page, and what is made of what they say."""

from collections.abc import Mapping, Sequence
from datetime import date

from fluiddesk.desktop.viewstate.record_form import FieldKind, FormField, RecordForm, Values
from fluiddesk.desktop.viewstate.round_plan import Planned
from fluiddesk.desktop.viewstate.sampling_calls import KnownMachine
from fluiddesk.desktop.viewstate.sampling_words import counted, visit_lines
from fluiddesk.domain.identity import SiteId
from fluiddesk.services.visit_papers.facts import LabelStock
from fluiddesk.services.visits.facts import Crew, ServiceDate

_USUAL_STOCK = "a4_3x8"


def move_form(one: Planned, crews: Sequence[Crew]) -> RecordForm:
    """Asks for another day of a visit, and for its crew."""
    mine = [crew for crew in crews if crew.site == one.visit.site_id and not crew.retired]
    crew_field = FormField(
        key="crew",
        label="Crew",
        kind=FieldKind.CHOICE,
        value=one.visit.crew_id.hex() if one.visit.crew_id else "",
        choices=(("", "as it is"), *((crew.id.hex(), crew.name) for crew in mine)),
    )
    return RecordForm(
        key="move",
        title=f"Move the visit to {one.visit.machine}",
        about=f"{visit_lines(one)[1]}.",
        save_label="Move the visit",
        fields=(
            FormField(
                key="to",
                label="To",
                kind=FieldKind.DAY,
                is_needed=True,
                value=one.visit.planned_on.isoformat(),
            ),
            *((crew_field,) if mine and one.is_kept else ()),
        ),
    )


def give_up_form(some: Sequence[Planned]) -> RecordForm:
    """Asks why visits are given up."""
    what = some[0].visit.machine if len(some) == 1 else counted(len(some), "visit")
    return RecordForm(
        key="give_up",
        title=f"Give up: {what}",
        about="The boxes are due as before. Labels already issued are void.",
        save_label="Give up",
        is_new=True,
        fields=(FormField(key="why", label="Reason", kind=FieldKind.LONG, is_needed=True),),
    )


def drop_sheet_form(one: Planned, told: str) -> RecordForm:
    """Asks why what was keyed of a sheet is dropped."""
    return RecordForm(
        key="drop_sheet",
        title=f"Drop what is keyed for {one.visit.machine}",
        about=f"The sheet is {told}. The visit waits to be recorded as before.",
        save_label="Drop it",
        is_new=True,
        fields=(FormField(key="why", label="Reason", kind=FieldKind.LONG, is_needed=True),),
    )


def labels_form(stocks: Mapping[str, LabelStock], *, labels: int) -> RecordForm:
    """Asks what labels are printed on, and from which place of a sheet on."""
    chosen = _USUAL_STOCK if _USUAL_STOCK in stocks else next(iter(stocks), "")
    return RecordForm(
        key="labels",
        title="Print labels",
        about=f"{counted(labels, 'label')} in working order.",
        save_label="Choose the file...",
        is_new=True,
        fields=(
            FormField(
                key="stock",
                label="Label stock",
                kind=FieldKind.CHOICE,
                is_needed=True,
                value=chosen,
                choices=tuple((code, one.name) for code, one in stocks.items()),
            ),
            FormField(
                key="start_at",
                label="First free place",
                kind=FieldKind.WHOLE,
                is_needed=True,
                value="1",
                least=1,
                note="counted along the rows of a sheet that was begun",
            ),
        ),
    )


def crew_form(crew: Crew | None, sites: Mapping[SiteId, str]) -> RecordForm:
    """Asks for a crew; ``None`` for a new one."""
    site = "" if crew is None else str(int(crew.site))
    if not site and len(sites) == 1:
        site = str(int(next(iter(sites))))
    return RecordForm(
        key="crew",
        title="Add a crew" if crew is None else f"Change {crew.name}",
        about="People who sample together. Their hours bound what a day can hold.",
        save_label="Add the crew" if crew is None else "Save the crew",
        is_new=crew is None,
        fields=(
            FormField(
                key="site",
                label="Site",
                kind=FieldKind.CHOICE,
                is_needed=True,
                value=site,
                choices=tuple((str(int(key)), name) for key, name in sites.items()),
                is_fixed=crew is not None,
            ),
            FormField(
                key="name", label="Name", is_needed=True, value="" if crew is None else crew.name
            ),
            FormField(
                key="hours",
                label="Hours a day",
                kind=FieldKind.NUMBER,
                is_needed=True,
                unit="h",
                value="" if crew is None else f"{crew.hours_per_day:g}",
                above=0,
                most=24,
            ),
            *(
                ()
                if crew is None
                else (
                    FormField(
                        key="retired",
                        label="In use",
                        kind=FieldKind.CHOICE,
                        value="no" if crew.retired else "yes",
                        choices=(("yes", "yes"), ("no", "no, keep for the record")),
                    ),
                )
            ),
        ),
    )


def crew_of(values: Values, before: Crew | None) -> Crew:
    """The crew that a form says."""
    return Crew(
        site=SiteId(int(str(values["site"]))) if before is None else before.site,
        id=b"" if before is None else before.id,
        name=str(values["name"]),
        hours_per_day=float(str(values["hours"])),
        retired=values.get("retired") == "no",
        version=0 if before is None else before.version,
    )


def service_form(machines: Sequence[KnownMachine], *, today: date) -> RecordForm:
    """Asks for a day on which a machine stands for service."""
    return RecordForm(
        key="service",
        title="Add a service day",
        about="A visit is laid on the day its machine stands anyway, where its window allows.",
        save_label="Add the service day",
        is_new=True,
        fields=(
            FormField(
                key="machine",
                label="Machine",
                kind=FieldKind.PICK,
                is_needed=True,
                choices=tuple((one.id.hex(), one.code) for one in machines),
            ),
            FormField(
                key="day",
                label="On",
                kind=FieldKind.DAY,
                is_needed=True,
                value=today.isoformat(),
            ),
            FormField(key="note", label="Note", kind=FieldKind.TEXT),
        ),
    )


def service_of(values: Values, machines: Sequence[KnownMachine]) -> ServiceDate:
    """The service day that a form says."""
    machine = next(one for one in machines if one.id.hex() == values["machine"])
    day = values["day"]
    if not isinstance(day, date):
        raise TypeError("a sound form holds a date")
    return ServiceDate(
        site=machine.site, machine=machine.id, planned_on=day, note=str(values["note"] or "")
    )
