"""Moves bottles on: handed in, shipped with a manifest that must count right, received, lost."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any, Final

from fluiddesk.domain.errors import NotFoundError, OperatorError
from fluiddesk.domain.identity import SiteId, normal_bottle_code
from fluiddesk.domain.samples import Sample, SampleState
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.custody.facts import KnownBy, Step
from fluiddesk.services.special_intervals import figures
from fluiddesk.services.visits.book import add_step
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import Desk, RecordKey, RecordKind

_DRAWN: Final = (SampleState.TAKEN, SampleState.SHIPPED, SampleState.RECEIVED)


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """What a hand-over came to. ``warnings``: what should be looked at."""

    codes: tuple[str, ...]
    changes: Changes
    shipment: bytes = b""
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Dispatch:
    """Bottles that leave together; ``manifest_count`` is what the list that goes along says."""

    codes: tuple[str, ...]
    laboratory: str
    sent_on: date
    manifest_count: int
    carrier: str = ""
    tracking: str = ""


def hand_in(
    place: Workplace,
    typed: Sequence[str],
    *,
    moment: datetime,
    known_by: KnownBy = KnownBy.TYPED,
) -> Moved:
    """Bottles came in from the machines.

    Raises:
        OperatorError: naming every code that is mistyped, unknown, or of a bottle not drawn.
    """
    with place.store.transaction(who=place.who, moment=moment) as desk:
        samples = _drawn(desk, typed, (SampleState.TAKEN,))
        for site, codes in _by_site(samples).items():
            add_step(desk, site, codes, Step.HANDED_IN.value, known_by=known_by.value)
            desk.audit.append(site, "bottles handed in", None, codes)
    return _moved(samples)


def ship(place: Workplace, sent: Dispatch, *, today: date, moment: datetime) -> Moved:
    """Bottles leave together for a laboratory; one shipment a site.

    Raises:
        OperatorError: when the count does not match the manifest, the day lies ahead, or a code is
            mistyped, unknown, listed twice, or of a bottle that is not here.
        NotFoundError: when the laboratory is not on the register.
    """
    if sent.sent_on > today:
        raise OperatorError(
            f"{sent.sent_on.isoformat()} lies after today ({today.isoformat()}). Correct the day."
        )
    if len(sent.codes) != sent.manifest_count:
        listed = len(sent.codes)
        bottles = "bottle" if sent.manifest_count == 1 else "bottles"
        raise OperatorError(
            f"The manifest says {sent.manifest_count} {bottles}, {listed} "
            f"{'is' if listed == 1 else 'are'} listed. Count the bottles and list each of them."
        )
    with place.store.transaction(who=place.who, moment=moment) as desk:
        known = [one["code"] for one in desk.register.all(RecordKind.LABORATORY)]
        if sent.laboratory not in known:
            raise NotFoundError(
                f'There is no laboratory "{sent.laboratory}". Choose: {", ".join(sorted(known))}.'
            )
        samples = _drawn(desk, sent.codes, (SampleState.TAKEN,))
        shipment = b""
        for site, codes in _by_site(samples).items():
            shipment = desk.new_id()
            values = {
                "laboratory_code": sent.laboratory,
                "carrier": sent.carrier.strip(),
                "tracking": sent.tracking.strip(),
                "sent_on": sent.sent_on,
                "manifest_count": len(codes),
            }
            name = f"shipment of {sent.sent_on.isoformat()}"
            desk.register.add(RecordKey(RecordKind.SHIPMENT, site, shipment), values, name=name)
            desk.programme_rows.put_in_shipment(site, shipment, codes)
            add_step(
                desk, site, codes, Step.SHIPPED.value, known_by=KnownBy.TYPED.value,
                shipment=shipment,
            )  # fmt: skip
        _set_state(desk, samples, SampleState.SHIPPED)
    return replace(_moved(samples), shipment=shipment)


def receive(
    place: Workplace,
    shipment: bytes,
    *,
    received_on: date,
    count: int,
    version: int,
    today: date,
    moment: datetime,
) -> Moved:
    """The laboratory confirmed a shipment; a count that differs is kept and told.

    Raises:
        OperatorError: when the day lies ahead or before the shipment left, or it came before.
        StaleEditError: when somebody else changed it since.
    """
    with place.store.transaction(who=place.who, moment=moment) as desk:
        row = _awaited_shipment(desk, shipment, received_on, today)
        site = SiteId(row["site_id"])
        codes = desk.programme_rows.in_shipment(shipment)
        desk.register.change(
            RecordKey(RecordKind.SHIPMENT, site, shipment),
            {"received_on": received_on, "received_count": count},
            version=version,
            name=f"shipment of {row['sent_on'].isoformat()}",
        )
        samples = [
            one
            for one in desk.sampling.by_bottle(codes).values()
            if one.state is SampleState.SHIPPED
        ]
        add_step(
            desk, site, codes, Step.RECEIVED.value, known_by=KnownBy.ASSUMED.value,
            shipment=shipment,
        )  # fmt: skip
        _set_state(desk, samples, SampleState.RECEIVED)
    warnings = (
        ()
        if count == len(codes)
        else (
            f"{count} bottles were received, {len(codes)} were sent. Ask the laboratory which "
            "ones are there, and mark the others lost.",
        )
    )
    return replace(_moved(samples), shipment=shipment, warnings=warnings)


def _awaited_shipment(
    desk: Desk, shipment: bytes, received_on: date, today: date
) -> Mapping[str, Any]:
    """The row of a shipment that is under way and may have arrived on that day."""
    found = desk.register.all(RecordKind.SHIPMENT, id=shipment)
    if not found:
        raise NotFoundError("This shipment is no longer in the store. Read the list again.")
    row = found[0]
    if not row["sent_on"] <= received_on <= today:
        raise OperatorError(
            f"{received_on.isoformat()} does not lie between the day it was sent "
            f"({row['sent_on'].isoformat()}) and today. Correct the day."
        )
    if row["received_on"] is not None:
        raise OperatorError(
            f"This shipment was received on {row['received_on'].isoformat()} already."
        )
    return row


def mark_lost(
    place: Workplace, typed: Sequence[str], *, why: str, today: date, moment: datetime
) -> Moved:
    """Bottles are lost: their samples give no verdict, and their boxes are due again at once.

    Raises:
        OperatorError: without a reason, or naming every code that is wrong.
    """
    if not why.strip():
        raise OperatorError("A bottle is given up as lost with a reason. Say why.")
    with place.store.transaction(who=place.who, moment=moment) as desk:
        samples = _drawn(desk, typed, _DRAWN)
        for sample in samples:
            lost = replace(sample, state=SampleState.LOST)
            desk.sampling.edit_sample(lost, version=None)
            add_step(
                desk, sample.site, [sample.bottle_code], Step.LOST.value,
                known_by=KnownBy.TYPED.value, note=why.strip(),
            )  # fmt: skip
            desk.register.add(
                RecordKey(RecordKind.SPECIAL_INTERVAL, sample.site, desk.new_id()),
                {
                    "compartment_id": sample.compartment,
                    "sample_id": sample.id,
                    "reason": "resample",
                    "interval_days": int(figures()["take_again"]["within_days"]),
                    "valid_from": today,
                    "note": f"bottle {sample.bottle_code} lost: {why.strip()}",
                },
                name=f"resample for bottle {sample.bottle_code}",
            )
    return _moved(samples)


def _drawn(desk: Desk, typed: Sequence[str], states: Sequence[SampleState]) -> list[Sample]:
    """The samples of some bottles, all faults told at once."""
    faults: list[str] = []
    codes: list[str] = []
    for text in typed:
        try:
            code = normal_bottle_code(text)
        except OperatorError as fault:
            faults.append(str(fault))
            continue
        if code in codes:
            faults.append(f"Bottle {code} is listed twice. List each bottle once.")
        codes.append(code)
    found = desk.sampling.by_bottle(codes)
    words = " or ".join(one.value for one in states)
    for code in dict.fromkeys(codes):
        if code not in found:
            faults.append(f"Bottle {code} belongs to no sample. Compare it with the label.")
        elif found[code].state not in states:
            faults.append(_out_of_turn(code, found[code].state, words))
    if not codes and not faults:
        faults.append("No bottle is listed. Scan or type at least one.")
    if faults:
        raise OperatorError("\n".join(faults))
    return [found[code] for code in codes]


def _by_site(samples: Sequence[Sample]) -> dict[SiteId, list[str]]:
    sites: dict[SiteId, list[str]] = defaultdict(list)
    for one in samples:
        sites[one.site].append(one.bottle_code)
    return sites


def _set_state(desk: Desk, samples: Sequence[Sample], state: SampleState) -> None:
    desk.sampling.update_samples(replace(one, state=state) for one in samples)


def _moved(samples: Sequence[Sample]) -> Moved:
    return Moved(
        codes=tuple(one.bottle_code for one in samples),
        changes=Changes(
            subjects=frozenset({Subject.FLEET, Subject.RESULTS}),
            compartments=frozenset(one.compartment for one in samples),
        ),
    )


def _out_of_turn(code: str, state: SampleState, words: str) -> str:
    """Why a bottle cannot be moved on by this step."""
    if state is SampleState.ISSUED:
        return (
            f"Bottle {code} has a label, but no sheet says that it was filled. "
            "Record its visit first, or leave it out of this list."
        )
    told = state.value.replace("_", " ")
    return f"Bottle {code} is {told}, not {words}. Leave it out of this list."
