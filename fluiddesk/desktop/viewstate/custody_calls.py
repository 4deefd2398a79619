"""What the section of bottles out asks of the services."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import TYPE_CHECKING

from fluiddesk.desktop.viewstate.record_form import FieldKind, FormField, RecordForm, Values
from fluiddesk.desktop.viewstate.sampling_words import counted
from fluiddesk.services.custody.facts import Custody, Leg, ShipmentFacts, TrailStep
from fluiddesk.services.workplace import Workplace

if TYPE_CHECKING:
    from fluiddesk.services.custody.facts import BottleOut
    from fluiddesk.services.custody.move import Moved


@dataclass(frozen=True, slots=True, kw_only=True)
class CustodyFacts:
    """Bottles out, legs and shipments by the laboratories' names, and those by code with name."""

    custody: Custody
    shipments: tuple[ShipmentFacts, ...]
    laboratories: tuple[tuple[str, str], ...]


@dataclass(frozen=True, kw_only=True)
class CustodyCalls:
    """The use cases on one workplace. Every one may raise an ``OperatorError``."""

    place: Workplace

    def facts(self, *, today: date) -> CustodyFacts:
        """Where every bottle is."""
        from fluiddesk.services.custody.read import custody, shipments
        from fluiddesk.services.register.read import register_facts

        laboratories = register_facts(self.place, today=today).laboratories
        names = {one.code: one.name for one in laboratories}
        found = custody(self.place, today=today)
        return CustodyFacts(
            custody=replace(
                found,
                out=tuple(
                    replace(one, laboratory=names.get(one.laboratory, one.laboratory))
                    for one in found.out
                ),
                legs=tuple(replace(one, lane=names.get(one.lane, one.lane)) for one in found.legs),
            ),
            shipments=tuple(
                replace(one, laboratory=names.get(one.laboratory, one.laboratory))
                for one in shipments(self.place)
            ),
            laboratories=tuple((one.code, one.name) for one in laboratories if not one.retired),
        )

    def trail(self, code: str) -> tuple[TrailStep, ...]:
        """Every hand-over of one bottle."""
        from fluiddesk.services.custody.read import trail_of

        return trail_of(self.place, code)

    def hand_in(self, codes: Sequence[str], *, moment: datetime) -> "Moved":
        """Bottles came in from the machines."""
        from fluiddesk.services.custody.move import hand_in

        return hand_in(self.place, codes, moment=moment)

    def ship(
        self, codes: Sequence[str], values: Values, *, today: date, moment: datetime
    ) -> "Moved":
        """Bottles leave together, as the form says."""
        from fluiddesk.services.custody.move import Dispatch, ship

        sent_on = values["sent_on"]
        if not isinstance(sent_on, date):
            raise TypeError("a sound form holds a date")
        sent = Dispatch(
            codes=tuple(codes),
            laboratory=str(values["laboratory"]),
            sent_on=sent_on,
            manifest_count=int(str(values["count"])),
            carrier=str(values["carrier"] or ""),
            tracking=str(values["tracking"] or ""),
        )
        return ship(self.place, sent, today=today, moment=moment)

    def receive(
        self, shipment: ShipmentFacts, values: Values, *, today: date, moment: datetime
    ) -> "Moved":
        """The laboratory confirmed a shipment, as the form says."""
        from fluiddesk.services.custody.move import receive

        received_on = values["received_on"]
        if not isinstance(received_on, date):
            raise TypeError("a sound form holds a date")
        return receive(
            self.place,
            shipment.id,
            received_on=received_on,
            count=int(str(values["count"])),
            version=shipment.version,
            today=today,
            moment=moment,
        )

    def mark_lost(
        self, codes: Sequence[str], *, why: str, today: date, moment: datetime
    ) -> "Moved":
        """Bottles are given up; their boxes are due again."""
        from fluiddesk.services.custody.move import mark_lost

        return mark_lost(self.place, codes, why=why, today=today, moment=moment)


def ship_form(
    codes: Sequence[str], laboratories: Sequence[tuple[str, str]], *, today: date
) -> RecordForm:
    """Asks how bottles leave; the count is keyed from the list that goes along."""
    only = laboratories[0][0] if len(laboratories) == 1 else ""
    return RecordForm(
        key="ship",
        title=f"Ship {counted(len(codes), 'bottle')}",
        about="Count the bottles in the box. The count must match the bottles chosen here.",
        save_label="Ship",
        is_new=True,
        fields=(
            FormField(
                key="laboratory",
                label="Laboratory",
                kind=FieldKind.CHOICE,
                is_needed=True,
                value=only,
                choices=tuple(laboratories),
            ),
            FormField(
                key="sent_on",
                label="Sent on",
                kind=FieldKind.DAY,
                is_needed=True,
                value=today.isoformat(),
            ),
            FormField(
                key="count",
                label="Bottles counted",
                kind=FieldKind.WHOLE,
                is_needed=True,
                least=1,
            ),
            FormField(key="carrier", label="Carrier"),
            FormField(key="tracking", label="Tracking number"),
        ),
    )


def receive_form(shipment: ShipmentFacts, *, today: date) -> RecordForm:
    """Asks when the laboratory received a shipment, and how many bottles."""
    return RecordForm(
        key="receive",
        title=f"Shipment of {shipment.sent_on.isoformat()} received",
        about=f"{counted(len(shipment.codes), 'bottle')} sent to {shipment.laboratory}.",
        save_label="Received",
        is_new=True,
        fields=(
            FormField(
                key="received_on",
                label="Received on",
                kind=FieldKind.DAY,
                is_needed=True,
                value=today.isoformat(),
            ),
            FormField(
                key="count",
                label="Bottles received",
                kind=FieldKind.WHOLE,
                is_needed=True,
                least=0,
            ),
        ),
    )


def lost_form(codes: Sequence[str]) -> RecordForm:
    """Asks why bottles are given up as lost."""
    return RecordForm(
        key="lost",
        title=f"Mark {counted(len(codes), 'bottle')} lost",
        about="Their boxes are due again at once, and a resample is asked for.",
        save_label="Mark lost",
        is_new=True,
        fields=(FormField(key="why", label="Reason", kind=FieldKind.LONG, is_needed=True),),
    )


def out_cells(one: "BottleOut") -> tuple[str, ...]:
    """One bottle as cells."""
    state = "presumed lost" if one.is_presumed_lost else "unaccounted"
    return (
        one.code,
        one.machine,
        one.compartment,
        one.station.word,
        one.since.isoformat(),
        f"{one.days:.0f}",
        "" if one.alarm_days is None else f"{one.alarm_days:g}",
        state if one.is_unaccounted or one.is_presumed_lost else "",
        one.laboratory,
        one.site,
    )


def leg_cells(leg: Leg) -> tuple[str, ...]:
    """One leg as cells."""
    return (
        f"    to {leg.lane}" if leg.lane else leg.title,
        "" if leg.median_days is None else f"{leg.median_days:.1f}",
        "" if leg.p90_days is None else f"{leg.p90_days:.1f}",
        f"{leg.target_days:g}",
        str(leg.bottles),
    )


def shipment_cells(one: ShipmentFacts) -> tuple[str, ...]:
    """One shipment as cells."""
    received = "" if one.received_on is None else one.received_on.isoformat()
    return (
        one.sent_on.isoformat(),
        one.laboratory,
        f"{len(one.codes)}",
        received,
        "" if one.received_count is None else f"{one.received_count}",
        ", ".join(part for part in (one.carrier, one.tracking) if part),
    )


def trail_words(steps: Sequence[TrailStep]) -> str:
    """A bottle's trail in one line."""
    told = [f"{step.step.word.lower()} {step.at:%Y-%m-%d %H:%M} ({step.who})" for step in steps]
    return "; ".join(told)
