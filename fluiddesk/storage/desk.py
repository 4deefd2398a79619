"""What a use case works with inside one transaction."""

from collections.abc import Iterable, Sequence
from datetime import datetime
from importlib import import_module
from typing import TYPE_CHECKING, Any, Generic, TypeVar

from fluiddesk.storage.session import Session

if TYPE_CHECKING:
    from fluiddesk.storage.queries.boxes import BoxQuery
    from fluiddesk.storage.queries.changes import ChangeQuery
    from fluiddesk.storage.queries.condition import ConditionQuery
    from fluiddesk.storage.queries.findings import FindingQuery
    from fluiddesk.storage.queries.histories import HistoryBlocks
    from fluiddesk.storage.queries.intervals import IntervalQuery
    from fluiddesk.storage.queries.judging import JudgingQuery
    from fluiddesk.storage.queries.printed import PrintedQuery
    from fluiddesk.storage.queries.programme import ProgrammeQuery
    from fluiddesk.storage.queries.search import SearchQuery
    from fluiddesk.storage.queries.sisters import SisterQuery
    from fluiddesk.storage.records.assessments import AssessmentRecords
    from fluiddesk.storage.records.audit import AuditRecords
    from fluiddesk.storage.records.catalogue import CatalogueRecords
    from fluiddesk.storage.records.facts import FactRecords
    from fluiddesk.storage.records.fleet import FleetRecords
    from fluiddesk.storage.records.forecasts import ForecastRecords
    from fluiddesk.storage.records.hours import HoursRecords
    from fluiddesk.storage.records.keying import KeyingRecords
    from fluiddesk.storage.records.limits import LimitRecords
    from fluiddesk.storage.records.outside import OutsideRecords
    from fluiddesk.storage.records.papers import PaperRecords
    from fluiddesk.storage.records.past import PastRecords
    from fluiddesk.storage.records.programme import ProgrammeRecords
    from fluiddesk.storage.records.register import RegisterRecords
    from fluiddesk.storage.records.register_rows import RegisterRows
    from fluiddesk.storage.records.results import ResultRecords
    from fluiddesk.storage.records.sampling import SamplingRecords
    from fluiddesk.storage.records.taking_drafts import TakingDraftRecords

_T = TypeVar("_T")


class _Part(Generic[_T]):
    """A record object, made when it is first asked for, and its module imported only then.

    Every command and the start of the window ask for a few of them.
    """

    def __init__(self, module: str, name: str) -> None:
        self._module, self._name = f"fluiddesk.storage.{module}", name

    def __get__(self, desk: "Desk", _owner: type) -> _T:
        made = desk.made.get(self._name)
        if made is None:
            of_type = getattr(import_module(self._module), self._name)
            made = desk.made[self._name] = of_type(desk.session)
        return made  # type: ignore[no-any-return]  # the test of every part looks at its type


class Desk:
    """One transaction: every record object in it sees and changes the same whole.

    Never kept beyond its ``with`` block, never shared between threads.
    """

    fleet: "_Part[FleetRecords]" = _Part("records.fleet", "FleetRecords")
    catalogue: "_Part[CatalogueRecords]" = _Part("records.catalogue", "CatalogueRecords")
    sampling: "_Part[SamplingRecords]" = _Part("records.sampling", "SamplingRecords")
    results: "_Part[ResultRecords]" = _Part("records.results", "ResultRecords")
    limits: "_Part[LimitRecords]" = _Part("records.limits", "LimitRecords")
    assessments: "_Part[AssessmentRecords]" = _Part("records.assessments", "AssessmentRecords")
    blocks: "_Part[HistoryBlocks]" = _Part("queries.histories", "HistoryBlocks")
    condition: "_Part[ConditionQuery]" = _Part("queries.condition", "ConditionQuery")
    audit: "_Part[AuditRecords]" = _Part("records.audit", "AuditRecords")
    boxes: "_Part[BoxQuery]" = _Part("queries.boxes", "BoxQuery")
    facts: "_Part[FactRecords]" = _Part("records.facts", "FactRecords")
    printed: "_Part[PrintedQuery]" = _Part("queries.printed", "PrintedQuery")
    programme: "_Part[ProgrammeQuery]" = _Part("queries.programme", "ProgrammeQuery")
    programme_rows: "_Part[ProgrammeRecords]" = _Part("records.programme", "ProgrammeRecords")
    register: "_Part[RegisterRecords]" = _Part("records.register", "RegisterRecords")
    hours: "_Part[HoursRecords]" = _Part("records.hours", "HoursRecords")
    register_rows: "_Part[RegisterRows]" = _Part("records.register_rows", "RegisterRows")
    search: "_Part[SearchQuery]" = _Part("queries.search", "SearchQuery")
    past: "_Part[PastRecords]" = _Part("records.past", "PastRecords")
    papers: "_Part[PaperRecords]" = _Part("records.papers", "PaperRecords")
    outside: "_Part[OutsideRecords]" = _Part("records.outside", "OutsideRecords")
    keying: "_Part[KeyingRecords]" = _Part("records.keying", "KeyingRecords")
    taking_drafts: "_Part[TakingDraftRecords]" = _Part(
        "records.taking_drafts", "TakingDraftRecords"
    )
    sisters: "_Part[SisterQuery]" = _Part("queries.sisters", "SisterQuery")
    findings: "_Part[FindingQuery]" = _Part("queries.findings", "FindingQuery")
    forecasts: "_Part[ForecastRecords]" = _Part("records.forecasts", "ForecastRecords")
    judging: "_Part[JudgingQuery]" = _Part("queries.judging", "JudgingQuery")
    changes: "_Part[ChangeQuery]" = _Part("queries.changes", "ChangeQuery")
    intervals: "_Part[IntervalQuery]" = _Part("queries.intervals", "IntervalQuery")

    def __init__(self, session: Session) -> None:
        self.session = session
        self.made: dict[str, Any] = {}

    @property
    def who(self) -> str:
        """The person who acts."""
        return self.session.who

    @property
    def moment(self) -> datetime:
        """When the transaction began, by the caller's clock."""
        return self.session.moment

    def new_id(self) -> bytes:
        """A new row's identifier, made at this transaction's moment."""
        return self.session.new_id()

    def load(self, table: str, columns: Sequence[str], rows: Iterable[tuple[Any, ...]]) -> int:
        """Write many new rows by the driver's fastest way, without lines in the audit trail.

        Args:
            table: the table's name.
            columns: the columns that the rows hold; ``created_at`` and ``created_by`` are filled
                in where they are left out.
            rows: plain Python values (``None`` for "unknown", never "not a number"); days as
                ``date``, moments as ``datetime`` with a time zone.

        Returns:
            The number of rows written.

        Raises:
            ValueError: when there is no such table or column.
        """
        return self.session.load(table, columns, rows)
