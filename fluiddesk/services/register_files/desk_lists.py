"""Tanks, laboratories with their methods, and test lists, from files."""

import json
from collections.abc import Mapping
from typing import Any, Final

from fluiddesk.domain.identity import SiteId
from fluiddesk.intake.values import Fault
from fluiddesk.services.register.desk_lists import read_test_lists, write_tests
from fluiddesk.services.register.facts import TestListFacts
from fluiddesk.services.register_files.reading import FileRow
from fluiddesk.services.register_files.register_index import Record
from fluiddesk.services.register_files.work import FileWork
from fluiddesk.storage import NO_SITE, RecordKey, RecordKind, canonical_json

_LABORATORY: Final = (
    "name", "site_name", "layout", "lane_days", "turnaround_days", "retired",
)  # fmt: skip


def import_tanks(work: FileWork) -> None:
    """Add bulk tanks and drum stores by site and number, or change them."""
    known = {
        (one["site_id"], one["code"].casefold()): dict(one)
        for one in work.desk.register.all(RecordKind.TANK)
    }
    for row in work.rows():
        if not row.is_sound or work.lacks(row, ("tank",)):
            continue
        site, code = work.site_of(row), row.values["tank"]
        if site is None:
            continue
        key = (site["site_id"], code.casefold())
        if work.is_repeated(row, key, "tank", code):
            continue
        names = ("capacity_l", "location", "retired")
        new = {name: row.values[name] for name in names if name in row.values}
        if "fluid" in row.values:
            fluid = work.fluid_of(row)
            if fluid is None:
                continue
            new["fluid_code"] = fluid
        name = f"tank {code}"
        if key in known:
            stands = known[key]
            place = RecordKey(RecordKind.TANK, SiteId(stands["site_id"]), stands["id"])
            work.edit(place, stands, new, name=name)
        elif not work.lacks(row):
            place = RecordKey(RecordKind.TANK, SiteId(key[0]), work.desk.new_id())
            usual = {"capacity_l": None, "location": "", "retired": False}
            work.desk.register.add(place, {"code": code, **usual, **new}, name=name)
            work.count_added(SiteId(key[0]))


def import_laboratories(work: FileWork) -> None:
    """Add laboratories by code, or change them; their methods are a list of their own."""
    known = work.index.laboratories
    for row in work.rows():
        code = _code_of(work, row, "laboratory", known)
        if code is None:
            continue
        new = {name: row.values[name] for name in _LABORATORY if name in row.values}
        key = RecordKey(RecordKind.LABORATORY, NO_SITE, code)
        if code in known:
            work.edit(key, known[code], new, name=f"laboratory {code}")
        elif not work.lacks(row):
            usual = {"site_name": "", "layout": "", "methods": "{}", "lane_days": None,
                     "turnaround_days": None, "retired": False}  # fmt: skip
            known[code] = {"code": code, **usual, **new}
            told = {name: value for name, value in known[code].items() if name != "code"}
            work.desk.register.add(key, told, name=f"laboratory {code}")
            work.count_added(NO_SITE)


def _code_of(work: FileWork, row: FileRow, column: str, known: Mapping[str, Record]) -> str | None:
    """The code a row stands for; refused where another differs by letter case alone."""
    if not row.is_sound or work.lacks(row, (column,)):
        return None
    code: str = row.values[column]
    if work.is_repeated(row, code.casefold(), column, code):
        return None
    same = [one for one in known if one.casefold() == code.casefold()]
    if same and code not in known:
        fault = Fault(f"is spelled {same[0]} on the register", "Write it in the same letters.")
        work.refuse(row, column, fault, code)
        return None
    return code


def import_methods(work: FileWork) -> None:
    """Note by which method a laboratory tests an analyte."""
    methods = {code: json.loads(one["methods"]) for code, one in work.index.laboratories.items()}
    touched: set[str] = set()
    for row in work.rows():
        if not row.is_sound or work.lacks(row):
            continue
        code, analyte = row.values["laboratory"], row.values["analyte"]
        if code not in methods:
            fault = Fault("is no laboratory of the register", "Import it in laboratories.csv too.")
            work.refuse(row, "laboratory", fault, code)
            continue
        if not _is_analyte(work, row, "analyte", analyte):
            continue
        if work.is_repeated(row, (code, analyte), "analyte", analyte):
            continue
        method = row.values.get("method", "")
        if methods[code].get(analyte) == method:
            work.unchanged += 1
            continue
        if analyte in methods[code]:
            work.changed += 1
        else:
            work.count_added(NO_SITE)
        methods[code][analyte] = method
        touched.add(code)
    for code in sorted(touched):
        key = RecordKey(RecordKind.LABORATORY, NO_SITE, code)
        told = {"methods": canonical_json(methods[code])}
        work.desk.register.change(key, told, version=None, name=f"laboratory {code}")


def _is_analyte(work: FileWork, row: FileRow, column: str, code: str) -> bool:
    if code in work.shared.catalogue.analytes:
        return True
    remedy = "Write a code of the list of analytes, for example iron or viscosity_40c."
    work.refuse(row, column, Fault("is no analyte", remedy), code)
    return False


def import_test_lists(work: FileWork) -> None:
    """Add lists of tests by code, or change them; a kind of compartment has one usual list."""
    before = {one.code: one for one in read_test_lists(work.desk)}
    taken: dict[str, int] = {}
    for row in work.rows():
        code = _code_of(work, row, "test_list", work.index.test_lists)
        if code is None or not _are_sound(work, row, taken):
            continue
        if code not in before and work.lacks(row):
            continue
        _put_test_list(work, code, row.values, before.get(code))


def _are_sound(work: FileWork, row: FileRow, taken: dict[str, int]) -> bool:
    """Whether a row's tests and kinds are known, and no other row is usual for the same kind."""
    kinds = []
    for text in row.values.get("compartment_kinds", ()):
        found = work.index.compartment_kind(text)
        if isinstance(found, Fault):
            work.refuse(row, "compartment_kinds", found, text)
            return False
        other = taken.setdefault(found, row.number)
        if other != row.number:
            remedy = "A kind of compartment has one usual list. Take it out of one of them."
            work.refuse(row, "compartment_kinds", Fault(f"is in row {other} too", remedy), text)
            return False
        kinds.append(found)
    analytes = row.values.get("analytes", ())
    doubled = [one for one in analytes if analytes.count(one) > 1]
    if doubled:
        fault = Fault("stands twice in the list", "Leave one out.")
        work.refuse(row, "analytes", fault, doubled[0])
    return not doubled and all(_is_analyte(work, row, "analytes", one) for one in analytes)


def _put_test_list(
    work: FileWork, code: str, told: Mapping[str, Any], before: TestListFacts | None
) -> None:
    key = RecordKey(RecordKind.TEST_LIST, NO_SITE, code)
    name = f"test list {code}"
    plain = {one: told[one] for one in ("name", "note", "retired") if one in told}
    kinds = before.compartment_kinds if before else ()
    if "compartment_kinds" in told:
        found = [work.index.compartment_kind(one) for one in told["compartment_kinds"]]
        kinds = tuple(one for one in found if isinstance(one, str))
    facts = TestListFacts(
        code=code,
        compartment_kinds=kinds,
        analytes=told.get("analytes", before.analytes if before else ()),
    )
    if before is None:
        made = {"note": "", "retired": False, **plain}
        work.desk.register.add(key, made, name=name)
        work.index.test_lists[code] = {"code": code, **made}
        write_tests(work.desk, key, facts, name=name)
        work.count_added(NO_SITE)
        return
    changed = work.edit(key, work.index.test_lists[code], plain, name=name)
    if write_tests(work.desk, key, facts, name=name) and not changed:
        work.unchanged -= 1
        work.changed += 1
