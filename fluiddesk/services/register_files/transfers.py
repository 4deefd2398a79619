"""Machines that went from site to site, from files: the link from record to record."""

from fluiddesk.domain.identity import SiteId
from fluiddesk.intake.values import Fault
from fluiddesk.services.register_files.reading import FileRow
from fluiddesk.services.register_files.register_index import Record
from fluiddesk.services.register_files.work import FileWork
from fluiddesk.storage import RecordKey, RecordKind


def import_transfers(work: FileWork) -> None:
    """Note which record of a machine goes on from which; one that stands is never changed.

    Both records stand in machines.csv with the same lasting identifier. Nothing else is moved: for
    that, hand the machine over on the register itself.
    """
    stands = {one["machine_id"]: one for one in work.desk.register.all(RecordKind.TRANSFER)}
    for row in work.rows():
        if not row.is_sound or work.lacks(row):
            continue
        before = work.machine_of(row)
        after = None if before is None else _goes_on(work, row, before)
        if before is None or after is None:
            continue
        if work.is_repeated(row, before["id"], "machine", before["code"]):
            continue
        new = {
            "machine_id": before["id"],
            "to_site_id": after["site_id"],
            "to_machine_id": after["id"],
            "moved_on": row.values["moved_on"],
            "note": row.values.get("note", ""),
        }
        known = stands.get(before["id"])
        if known is None:
            site = SiteId(before["site_id"])
            key = RecordKey(RecordKind.TRANSFER, site, work.desk.new_id())
            work.desk.register.add(key, new, name=f"transfer of machine {before['code']}")
            work.count_added(site)
        elif any(known[name] != value for name, value in new.items() if name != "note"):
            fault = Fault(
                f"went to another site on {known['moved_on'].isoformat()} already",
                "Take the row out, or write it as it stands.",
            )
            work.refuse(row, "machine", fault, before["code"])
        else:
            work.unchanged += 1


def _goes_on(work: FileWork, row: FileRow, before: Record) -> Record | None:
    """The record at the site that took the machine; refused where there is none."""
    site = work.index.site(row.values["to_site"])
    if isinstance(site, Fault):
        work.refuse(row, "to_site", site, row.values["to_site"])
        return None
    if site["site_id"] == before["site_id"]:
        fault = Fault("is the site it came from", "Write the site that took it.")
        work.refuse(row, "to_site", fault, site["name"])
        return None
    code = row.values.get("to_machine") or before["code"]
    found = work.index.machine(site["site_id"], code)
    if isinstance(found, Fault) or found is None:
        remedy = "Import it in machines.csv too."
        fault = found or Fault(f"is no machine of {site['name']}", remedy)
        work.refuse(row, "to_machine", fault, code)
        return None
    if found["machine_uuid"] != before["machine_uuid"]:
        remedy = "Give both records the same lasting_id in machines.csv."
        work.refuse(row, "to_machine", Fault("is another machine", remedy), code)
        return None
    return found
