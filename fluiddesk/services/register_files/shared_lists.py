"""Sites, fluids, their new-fluid references and batches, from files."""

import json
from collections import Counter
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from fluiddesk.domain.identity import SiteId
from fluiddesk.intake.values import Fault
from fluiddesk.services.register_files.work import FileWork
from fluiddesk.storage import NO_SITE, RecordKey, RecordKind

if TYPE_CHECKING:
    from fluiddesk.services.register_files.register_index import Record


def import_sites(work: FileWork) -> None:
    """Add sites by name, or change their time zone and dust."""
    for row in work.rows():
        name = row.values.get("site", "")
        if not row.is_sound or work.lacks(row):
            work.shared.doubtful_sites.add(name.casefold())
            continue
        found = work.index.site(name)
        if work.is_repeated(row, name.casefold(), "site", name):
            continue
        new = _site_values(row.values)
        if isinstance(found, dict):
            site = SiteId(found["site_id"])
            key = RecordKey(RecordKind.SITE, site, site)
            work.edit(key, found, new, name=f"site {name}")
        else:
            _add_site(work, name, new)


def _site_values(values: Mapping[str, Any]) -> dict[str, Any]:
    new: dict[str, Any] = {}
    if "time_zone" in values:
        new["time_zone"] = values["time_zone"]
    if "dust_shares" in values:
        shares = values["dust_shares"] or {}
        new["dust_shares"] = json.dumps(shares, sort_keys=True, separators=(",", ":"))
    return new


def _add_site(work: FileWork, name: str, new: Mapping[str, Any]) -> None:
    taken = [one["site_id"] for one in work.index.sites.values()]
    site = SiteId(max(taken, default=0) + 1)
    made = {"site_id": site, "name": name, "time_zone": "UTC", "dust_shares": "{}", **new}
    told = {column: value for column, value in made.items() if column != "site_id"}
    work.desk.register.add(RecordKey(RecordKind.SITE, site, site), told, name=f"site {name}")
    work.index.sites[name] = made
    work.count_added(site)


def import_fluids(work: FileWork) -> None:
    """Add fluids by code, or change them."""
    held = Counter(box["fluid_code"] for box in work.index.boxes.values())
    for row in work.rows():
        if not row.is_sound or work.lacks(row, ("fluid",)):
            continue
        code = row.values["fluid"]
        if work.is_repeated(row, code, "fluid", code):
            continue
        names = ("name", "viscosity_grade", "density_kg_per_l", "retired")
        new = {name: row.values[name] for name in names if name in row.values}
        if "fluid_class" in row.values:
            found = work.index.fluid_class(row.values["fluid_class"])
            if isinstance(found, Fault):
                work.refuse(row, "fluid_class", found, row.values["fluid_class"])
                continue
            new["fluid_class"] = found
        if new.get("retired") and held[code]:
            told = "1 compartment holds" if held[code] == 1 else f"{held[code]} compartments hold"
            fault = Fault(f"cannot be: {told} it", "Give them another fluid first.")
            work.refuse(row, "retired", fault, "yes")
            continue
        known = work.index.fluids.get(code)
        if known is not None:
            key = RecordKey(RecordKind.FLUID, NO_SITE, code)
            if "fluid_class" in work.edit(key, known, new, name=f"fluid {code}"):
                work.shared.touched.fluids.add(code)
        elif not work.lacks(row):
            _add_fluid(work, code, new)


def _add_fluid(work: FileWork, code: str, new: Mapping[str, Any]) -> None:
    made: Record = {"code": code, "viscosity_grade": "", "retired": False, **new}
    told = {column: value for column, value in made.items() if column != "code"}
    work.desk.register.add(RecordKey(RecordKind.FLUID, NO_SITE, code), told, name=f"fluid {code}")
    work.index.fluids[code] = made
    work.count_added(NO_SITE)


def import_references(work: FileWork) -> None:
    """Add new-fluid references; one that stands is never changed, the newer of a day holds."""
    known: Counter[tuple[Any, ...]] = Counter()
    days = set()
    for fluid in work.desk.catalogue.fluids():
        for one in fluid.references:
            known[_reference(fluid.code, one.valid_from, one.source, one.values)] += 1
            days.add((fluid.code, one.valid_from))
    own = {column.name for column in work.file.kind.columns}
    for row in work.rows():
        if not row.is_sound or work.lacks(row):
            continue
        code = work.fluid_of(row)
        if code is None:
            continue
        given = row.values.items()
        values = {name: told for name, told in given if name not in own and told is not None}
        day, source = row.values["valid_from"], row.values["source"]
        key = _reference(code, day, source, values)
        if known[key]:
            known[key] -= 1
            work.unchanged += 1
            continue
        if not values:
            fault = Fault("the row holds no value", "Write a value under an analyte's code.")
            work.refuse(row, "", fault)
            continue
        if (code, day) in days:
            fault = Fault("a reference of that day stands already", "This newer one will hold.")
            work.warn(row, "valid_from", fault, day)
        days.add((code, day))
        number = work.desk.catalogue.add_reference(
            code, valid_from=day, values=values, source=source
        )
        told = {"valid_from": day.isoformat(), "source": source, **values}
        work.desk.audit.append(NO_SITE, f"reference {number} of fluid {code}", None, told)
        work.shared.touched.fluids.add(code)
        work.count_added(NO_SITE)


def _reference(code: str, day: Any, source: str, values: Mapping[str, float]) -> tuple[Any, ...]:
    figures = tuple(sorted((name, float(value)) for name, value in values.items()))
    return code, day, source, figures


_BATCH = ("site_id", "id", "fluid_code", "batch", "delivered_on", "reference_number")


def import_batches(work: FileWork) -> None:
    """Add deliveries of fluids."""
    references = {
        (one.fluid_code, one.valid_from): number
        for number, one in sorted(work.desk.catalogue.references().items())
    }
    rows = [dict(zip(_BATCH, row, strict=True)) for row in work.desk.register_rows.read(
        "fluid_batch", _BATCH
    )]  # fmt: skip
    known = {(one["site_id"], one["fluid_code"], one["batch"]): one for one in rows}
    for row in work.rows():
        if not row.is_sound or work.lacks(row):
            continue
        site, code = work.site_of(row), work.fluid_of(row)
        if site is None or code is None:
            continue
        key = (site["site_id"], code, row.values["batch"])
        if work.is_repeated(row, key, "batch", row.values["batch"]):
            continue
        since = row.values.get("reference_from")
        if since is not None and (code, since) not in references:
            fault = Fault(
                f"is not the day of a reference of {code}",
                "Import the reference in fluid_references.csv too, or leave the cell empty.",
            )
            work.refuse(row, "reference_from", fault, since)
            continue
        new: dict[str, Any] = {"delivered_on": row.values["delivered_on"]}
        if "reference_from" in row.values:
            new["reference_number"] = None if since is None else references[code, since]
        if key in known:
            one = known[key]
            place = RecordKey(RecordKind.BATCH, SiteId(one["site_id"]), one["id"])
            work.edit(place, one, new, name=f"batch {key[2]} of fluid {code}")
            continue
        made = (*key[:1], work.desk.new_id(), *key[1:], new["delivered_on"],
                new.get("reference_number"))  # fmt: skip
        work.desk.load("fluid_batch", _BATCH, [made])
        work.count_added(SiteId(key[0]))
