"""Words for the records of the register, and what makes each of them itself."""

from collections.abc import Iterable, Mapping

from fluiddesk.services.register.facts import (
    BatchFacts,
    CompartmentFacts,
    FluidFacts,
    LaboratoryFacts,
    MachineFacts,
    MeterFacts,
    MissingFact,
    PointFacts,
    RegisterFacts,
    SiteFacts,
    TankFacts,
    TestListFacts,
    UserFacts,
)

Record = (
    SiteFacts
    | MachineFacts
    | CompartmentFacts
    | MeterFacts
    | PointFacts
    | FluidFacts
    | TankFacts
    | BatchFacts
    | LaboratoryFacts
    | TestListFacts
    | UserFacts
)
Key = tuple[str, bytes | str]
"""What makes a record itself: the word for its kind, and its identifier or code."""


def key_of(record: Record) -> Key:
    """What makes a record itself."""
    match record:
        case SiteFacts():
            return "site", str(int(record.site))
        case FluidFacts() | LaboratoryFacts() | TestListFacts():
            return _KINDS[type(record)], record.code
        case UserFacts():
            return "user", record.name
        case _:
            return _KINDS[type(record)], bytes(record.id)


def saved_key(record: Record, key: bytes | str | int) -> Key:
    """What makes a record itself once it is saved under this key."""
    return _KINDS[type(record)], str(key) if isinstance(key, int) else key


_KINDS: Mapping[type[Record], str] = {
    SiteFacts: "site",
    MachineFacts: "machine",
    CompartmentFacts: "compartment",
    MeterFacts: "meter",
    PointFacts: "point",
    FluidFacts: "fluid",
    TankFacts: "tank",
    BatchFacts: "batch",
    LaboratoryFacts: "laboratory",
    TestListFacts: "test_list",
    UserFacts: "user",
}


def counted(number: int, word: str) -> str:
    """A number with its word: "1 machine", "20 machines"."""
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def lacks_line(missing: Iterable[MissingFact]) -> str:
    """The fields that are missing, each once, the pressing ones first."""
    told = [_field_words(one) for one in sorted(missing, key=lambda one: not one.blocks)]
    counts = {words: told.count(words) for words in told}
    return ", ".join(
        words if count == 1 else f"{words} ({count})" for words, count in counts.items()
    )


def _field_words(one: MissingFact) -> str:
    """A missing field as words: "capacity_l" is "capacity"."""
    said = _RECORD_WORDS.get((one.record, one.field)) or _FIELD_WORDS.get(one.field)
    return said or one.field.replace("_", " ")


_RECORD_WORDS = {
    ("point", "kind"): "sampling point",
    ("point", "location"): "place of point",
    ("meter", "reading"): "meter reading",
}
_FIELD_WORDS = {
    "capacity_l": "capacity",
    "interval_hours": "interval",
    "interval_days": "interval",
    "residue_share": "residue share",
    "lane_days": "days on the way",
    "references": "new-fluid reference",
}


def interval_text(box: CompartmentFacts) -> str:
    """The interval in words: "250 h or 90 d"."""
    hours = f"{box.interval_hours:g} h" if box.interval_hours is not None else ""
    days = f"{box.interval_days} d" if box.interval_days is not None else ""
    return " or ".join(filter(None, (hours, days)))


def part_name(record: Record, facts: RegisterFacts) -> str:
    """The words for a box, a meter or a sampling point."""
    match record:
        case CompartmentFacts():
            return record.name
        case MeterFacts():
            fitted = record.fitted_on.isoformat() if record.fitted_on else "unknown day"
            return f"Meter ({record.unit}), fitted {fitted}"
        case PointFacts():
            box = next((one for one in facts.compartments if one.id == record.compartment), None)
            return f"Sampling point, {box.name.lower() if box else ''}".rstrip(", ")
        case TankFacts():
            return f"Tank {record.code}"
        case BatchFacts():
            return f"Delivery {record.batch}"
        case _:
            return str(getattr(record, "name", ""))


def about_line(record: Record, facts: RegisterFacts) -> str:
    """What a record is beside its name: where it is and how far it has run."""
    match record:
        case MachineFacts() if record.version:
            hours = "" if record.hours_now is None else f"{record.hours_now:,.0f} h"
            moved = f"came from {record.came_from}" if record.came_from else ""
            gone = f"went to {record.went_to}" if record.went_to else ""
            return "  ·  ".join(filter(None, (record.site_name, hours, moved, gone)))
        case CompartmentFacts() if record.component_serial:
            return f"component {record.component_serial}"
        case TankFacts() | BatchFacts() if record.version:
            names = (one.name for one in facts.sites if one.site == record.site)
            return next(names, "")
        case FluidFacts():
            count = len(record.references)
            return counted(count, "new-fluid reference") if record.version else ""
        case _:
            return ""


def lacks_told(missing: Iterable[MissingFact]) -> str:
    """What is missing in sentences, the pressing first; the first three."""
    told = list(dict.fromkeys(one.text for one in sorted(missing, key=lambda one: not one.blocks)))
    shown = told[:_TOLD]
    if len(told) > _TOLD:
        shown.append(f"And {len(told) - _TOLD} more.")
    return "\n".join(shown)


_TOLD = 3
