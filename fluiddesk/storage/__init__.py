"""Keeps the programme's records in SQLite or PostgreSQL; the only part that speaks SQL.

This is the front door: outside this package nothing else of it is imported. What is behind it is
imported when it is first asked for, since the window opens with a small part of it.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from fluiddesk.storage.address import shown_address
    from fluiddesk.storage.blocks import BlockError, pack, unpack, unpack_fleet
    from fluiddesk.storage.checking import check_store
    from fluiddesk.storage.copying import CopyError, copy_store
    from fluiddesk.storage.desk import Desk
    from fluiddesk.storage.queries.changes import ChangePlanRow
    from fluiddesk.storage.queries.condition import CONDITION_COLUMNS
    from fluiddesk.storage.queries.drawn import DrawnColumns, ReadingColumns
    from fluiddesk.storage.queries.findings import FindingLine
    from fluiddesk.storage.queries.judging import EVENT_CODES, FIT, REPAIR, TOP_UP
    from fluiddesk.storage.records.audit import NO_SITE
    from fluiddesk.storage.records.forecasts import ForecastRecord, ForecastTally
    from fluiddesk.storage.records.hours import HoursRecord
    from fluiddesk.storage.records.keying import (
        AnsweredWarningRecord,
        EventQuestionRecord,
        KeyDraftRecord,
        SavedLayoutRecord,
    )
    from fluiddesk.storage.records.outside import BoxSampleRecord, FluidSampleRecord
    from fluiddesk.storage.records.papers import PaperRecord, RemarkRecord
    from fluiddesk.storage.records.past import KnownSample, PastSample, WaitingRecord
    from fluiddesk.storage.records.register import (
        ChangeRecord,
        RecordKey,
        RecordKind,
        RegisterRecords,
    )
    from fluiddesk.storage.records.results import SheetTakenError
    from fluiddesk.storage.records.rows import (
        AssessmentRecord,
        AuditRecord,
        BottleRecord,
        ConditionRecord,
        EventRecord,
        HeldRowRecord,
        IntakeRecord,
        MeterReadingRecord,
        MeterRecord,
        ReadingRecord,
        ReferenceRecord,
        SheetRecord,
        SiteRecord,
        UsageRecord,
    )
    from fluiddesk.storage.records.taking_drafts import NEW_DRAFT, TakingDraftRecord
    from fluiddesk.storage.session import canonical_json
    from fluiddesk.storage.state import SCHEMA_VERSION, StoreKind, StoreState, store_state
    from fluiddesk.storage.store import DeskStore, open_store
    from fluiddesk.storage.upgrade import (
        UpgradeError,
        create_store,
        store_matches_tables,
        upgrade_store,
    )
    from fluiddesk.storage.verdicts import with_verdicts

_HOMES: Final[dict[str, str]] = {
    "address": "shown_address",
    "blocks": "BlockError pack unpack unpack_fleet",
    "checking": "check_store",
    "copying": "CopyError copy_store",
    "desk": "Desk",
    "queries.changes": "ChangePlanRow",
    "queries.condition": "CONDITION_COLUMNS",
    "queries.drawn": "DrawnColumns ReadingColumns",
    "queries.findings": "FindingLine",
    "queries.judging": "EVENT_CODES FIT REPAIR TOP_UP",
    "records.audit": "NO_SITE",
    "records.forecasts": "ForecastRecord ForecastTally",
    "records.hours": "HoursRecord",
    "records.keying": (
        "AnsweredWarningRecord EventQuestionRecord KeyDraftRecord SavedLayoutRecord"
    ),
    "records.outside": "BoxSampleRecord FluidSampleRecord",
    "records.papers": "PaperRecord RemarkRecord",
    "records.past": "KnownSample PastSample WaitingRecord",
    "records.register": "ChangeRecord RecordKey RecordKind RegisterRecords",
    "records.results": "SheetTakenError",
    "records.rows": (
        "AssessmentRecord AuditRecord BottleRecord ConditionRecord EventRecord HeldRowRecord "
        "IntakeRecord MeterReadingRecord MeterRecord ReadingRecord ReferenceRecord "
        "SheetRecord SiteRecord UsageRecord"
    ),
    "records.taking_drafts": "NEW_DRAFT TakingDraftRecord",
    "session": "canonical_json",
    "state": "SCHEMA_VERSION StoreKind StoreState store_state",
    "store": "DeskStore open_store",
    "upgrade": "UpgradeError create_store store_matches_tables upgrade_store",
    "verdicts": "with_verdicts",
}
"""Which names stand in which module."""
_HOME_OF: Final = {name: module for module, names in _HOMES.items() for name in names.split()}

__all__ = [
    "CONDITION_COLUMNS",
    "EVENT_CODES",
    "FIT",
    "NEW_DRAFT",
    "NO_SITE",
    "REPAIR",
    "SCHEMA_VERSION",
    "TOP_UP",
    "AnsweredWarningRecord",
    "AssessmentRecord",
    "AuditRecord",
    "BlockError",
    "BottleRecord",
    "BoxSampleRecord",
    "ChangePlanRow",
    "ChangeRecord",
    "ConditionRecord",
    "CopyError",
    "Desk",
    "DeskStore",
    "DrawnColumns",
    "EventQuestionRecord",
    "EventRecord",
    "FindingLine",
    "FluidSampleRecord",
    "ForecastRecord",
    "ForecastTally",
    "HeldRowRecord",
    "HoursRecord",
    "IntakeRecord",
    "KeyDraftRecord",
    "KnownSample",
    "MeterReadingRecord",
    "MeterRecord",
    "PaperRecord",
    "PastSample",
    "ReadingColumns",
    "ReadingRecord",
    "RecordKey",
    "RecordKind",
    "ReferenceRecord",
    "RegisterRecords",
    "RemarkRecord",
    "SavedLayoutRecord",
    "SheetRecord",
    "SheetTakenError",
    "SiteRecord",
    "StoreKind",
    "StoreState",
    "TakingDraftRecord",
    "UpgradeError",
    "UsageRecord",
    "WaitingRecord",
    "canonical_json",
    "check_store",
    "copy_store",
    "create_store",
    "open_store",
    "pack",
    "shown_address",
    "store_matches_tables",
    "store_state",
    "unpack",
    "unpack_fleet",
    "upgrade_store",
    "with_verdicts",
]


if not TYPE_CHECKING:  # which would take any name for one of ours

    def __getattr__(name: str) -> Any:
        module = _HOME_OF.get(name)
        if module is None:
            raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
        found = getattr(import_module(f"{__name__}.{module}"), name)
        globals()[name] = found
        return found
