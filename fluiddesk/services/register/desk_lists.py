"""Laboratories, test lists and the people at the desk."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any, Final

from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.register.derive import FLEET_ONLY
from fluiddesk.services.register.facts import (
    NEW,
    LaboratoryFacts,
    TestListFacts,
    UserFacts,
)
from fluiddesk.services.register.saving import Faults, Saved, write_record
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import NO_SITE, Desk, RecordKey, RecordKind, canonical_json

ROLES: Final = ("clerk", "planner", "manager", "reader")
_YEAR: Final = 365


def save_laboratory(
    place: Workplace, facts: LaboratoryFacts, *, today: date, moment: datetime
) -> Saved:
    """Add a laboratory (version 0) or change one; the key in the answer is its code.

    Raises:
        RegisterFaultsError: naming each wrong field.
        StaleRecordError: when somebody else saved it since it was read.
    """
    _ = today
    with place.store.transaction(who=place.who, moment=moment) as desk:
        code = facts.code.strip()
        faults = Faults(f"Laboratory {code}" if code else "The laboratory")
        _needs_new_code(desk, faults, RecordKind.LABORATORY, code, facts.version)
        faults.needs_text("name", facts.name, "The name")
        for name, days, what in (
            ("lane_days", facts.lane_days, "The days on the way"),
            ("turnaround_days", facts.turnaround_days, "The days to the report"),
        ):
            faults.needs_number(name, days, what, high=_YEAR, optional=True)
        _needs_analytes(faults, place.catalogue, "methods", facts.methods)
        faults.refuse()
        values = {
            "name": facts.name.strip(),
            "site_name": facts.site_name.strip(),
            "layout": facts.layout,
            "methods": canonical_json(dict(facts.methods)),
            "lane_days": facts.lane_days,
            "turnaround_days": facts.turnaround_days,
            "retired": facts.retired,
        }
        key = RecordKey(RecordKind.LABORATORY, NO_SITE, code)
        write_record(desk, key, values, version=facts.version, name=f"laboratory {code}")
        return Saved(changes=FLEET_ONLY, key=code)


def save_test_list(
    place: Workplace, facts: TestListFacts, *, today: date, moment: datetime
) -> Saved:
    """Add a test list (version 0) or change one; the key in the answer is its code.

    A compartment kind has one usual list: the one saved last takes it over.

    Raises:
        RegisterFaultsError: naming each wrong field.
        StaleRecordError: when somebody else saved it since it was read.
    """
    _ = today
    with place.store.transaction(who=place.who, moment=moment) as desk:
        code = facts.code.strip()
        faults = Faults(f"Test list {code}" if code else "The test list")
        _needs_new_code(desk, faults, RecordKind.TEST_LIST, code, facts.version)
        faults.needs_text("name", facts.name, "The name")
        if not facts.analytes:
            faults.add("analytes", "", "The list has no test. Choose at least one.")
        _needs_analytes(faults, place.catalogue, "analytes", dict.fromkeys(facts.analytes, ""))
        if len(set(facts.analytes)) < len(facts.analytes):
            faults.add("analytes", "", "A test stands twice in the list. Leave one out.")
        kinds = list(place.catalogue.compartment_kinds)
        for kind in facts.compartment_kinds:
            faults.needs_choice("compartment_kinds", kind, kinds, "Compartment kind")
        faults.refuse()
        values = {"name": facts.name.strip(), "note": facts.note.strip(), "retired": facts.retired}
        key = RecordKey(RecordKind.TEST_LIST, NO_SITE, code)
        name = f"test list {code}"
        write_record(desk, key, values, version=facts.version, name=name)
        write_tests(desk, key, facts, name=name)
        return Saved(changes=FLEET_ONLY, key=code)


def save_user(place: Workplace, facts: UserFacts, *, today: date, moment: datetime) -> Saved:
    """Add a person (version 0) or change what they may do; the key in the answer is the name.

    Raises:
        RegisterFaultsError: naming each wrong field.
        StaleRecordError: when somebody else saved it since it was read.
    """
    _ = today
    with place.store.transaction(who=place.who, moment=moment) as desk:
        name = facts.name.strip()
        faults = Faults(f"Desk user {name}" if name else "The desk user")
        _needs_new_code(desk, faults, RecordKind.USER, name, facts.version)
        faults.needs_choice("role", facts.role, ROLES, "Role")
        faults.refuse()
        key = RecordKey(RecordKind.USER, NO_SITE, name)
        values = {"role": facts.role, "is_active": facts.is_active}
        write_record(desk, key, values, version=facts.version, name=f"desk user {name}")
        return Saved(changes=FLEET_ONLY, key=name)


def read_test_lists(desk: Desk) -> tuple[TestListFacts, ...]:
    """Every test list by code, with its tests and the kinds it is usual for."""
    tests: dict[str, list[str]] = {}
    for code, _, analyte in desk.register.links("test_list_row"):
        tests.setdefault(code, []).append(analyte)
    kinds: dict[str, list[str]] = {}
    for kind, code in desk.register.links("test_list_kind"):
        kinds.setdefault(code, []).append(kind)
    return tuple(
        TestListFacts(
            code=row["code"],
            name=row["name"],
            compartment_kinds=tuple(kinds.get(row["code"], ())),
            analytes=tuple(tests.get(row["code"], ())),
            note=row["note"],
            retired=row["retired"],
            version=row["version"],
        )
        for row in desk.register.all(RecordKind.TEST_LIST)
    )


def ordered_tests(desk: Desk, *, compartment_kind: str, own_list: str = "") -> tuple[str, ...]:
    """The analytes ordered for a box: by its own list, else by the one usual for its kind.

    Empty where no list holds: everything the laboratory tests is then welcome.
    """
    for one in read_test_lists(desk):
        usual = not own_list and compartment_kind in one.compartment_kinds and not one.retired
        if usual or one.code == own_list:
            return one.analytes
    return ()


def write_tests(desk: Desk, key: RecordKey, facts: TestListFacts, *, name: str) -> bool:
    """Write the tests of a list and the kinds it is usual for; whether they are other ones now."""
    code = str(key.key)
    before = next(one for one in read_test_lists(desk) if one.code == code)
    told = (before.analytes, tuple(sorted(before.compartment_kinds)))
    wanted = (facts.analytes, tuple(sorted(facts.compartment_kinds)))
    if told == wanted:
        return False
    rows = [
        {"test_list_code": code, "place": place, "analyte": analyte}
        for place, analyte in enumerate(facts.analytes)
    ]
    desk.register.replace_links("test_list_row", "test_list_code", code, rows)
    for kind in facts.compartment_kinds:
        desk.register.replace_links("test_list_kind", "compartment_kind", kind, [])
    kinds = [{"compartment_kind": kind, "test_list_code": code} for kind in wanted[1]]
    desk.register.replace_links("test_list_kind", "test_list_code", code, kinds)
    old = {"analytes": list(told[0]), "compartment_kinds": list(told[1])}
    new = {"analytes": list(wanted[0]), "compartment_kinds": list(wanted[1])}
    desk.register.note(key, f"tests of {name}", old, new)
    return True


def _needs_new_code(desk: Desk, faults: Faults, kind: RecordKind, code: str, version: int) -> None:
    column = "name" if kind is RecordKind.USER else "code"
    faults.needs_text(column, code, "The name" if kind is RecordKind.USER else "The code")
    known = [row[column].casefold() for row in desk.register.all(kind)]
    if version == NEW and code.casefold() in known:
        faults.add(column, code, f'There is one called "{code}" already. Choose another.')


def _needs_analytes(
    faults: Faults, catalogue: Catalogue, field: str, named: Mapping[str, Any]
) -> None:
    for code in named:
        if code not in catalogue.analytes:
            text = f'Analyte "{code}" is not known. Give a code of the list of analytes.'
            faults.add(field, code, text)
