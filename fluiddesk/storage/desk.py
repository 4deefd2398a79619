"""What a use case works with inside one transaction."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from fluiddesk.storage.queries.boxes import BoxQuery
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
from fluiddesk.storage.session import Session


@dataclass(slots=True)
class Desk:
    """One transaction: every record object in it sees and changes the same whole.

    Never kept beyond its ``with`` block, never shared between threads.
    """

    session: Session
    fleet: FleetRecords = field(init=False)
    catalogue: CatalogueRecords = field(init=False)
    sampling: SamplingRecords = field(init=False)
    results: ResultRecords = field(init=False)
    limits: LimitRecords = field(init=False)
    assessments: AssessmentRecords = field(init=False)
    blocks: HistoryBlocks = field(init=False)
    condition: ConditionQuery = field(init=False)
    audit: AuditRecords = field(init=False)
    boxes: BoxQuery = field(init=False)
    facts: FactRecords = field(init=False)
    printed: PrintedQuery = field(init=False)
    programme: ProgrammeQuery = field(init=False)
    programme_rows: ProgrammeRecords = field(init=False)
    register: RegisterRecords = field(init=False)
    hours: HoursRecords = field(init=False)
    register_rows: RegisterRows = field(init=False)
    search: SearchQuery = field(init=False)
    past: PastRecords = field(init=False)
    papers: PaperRecords = field(init=False)
    outside: OutsideRecords = field(init=False)
    keying: KeyingRecords = field(init=False)
    taking_drafts: TakingDraftRecords = field(init=False)
    sisters: SisterQuery = field(init=False)
    findings: FindingQuery = field(init=False)
    forecasts: ForecastRecords = field(init=False)
    judging: JudgingQuery = field(init=False)
    intervals: IntervalQuery = field(init=False)

    def __post_init__(self) -> None:
        session = self.session
        self.fleet = FleetRecords(session)
        self.catalogue = CatalogueRecords(session)
        self.sampling = SamplingRecords(session)
        self.results = ResultRecords(session)
        self.limits = LimitRecords(session)
        self.assessments = AssessmentRecords(session)
        self.blocks = HistoryBlocks(session)
        self.condition = ConditionQuery(session)
        self.audit = AuditRecords(session)
        self.boxes = BoxQuery(session)
        self.facts = FactRecords(session)
        self.printed = PrintedQuery(session)
        self.programme = ProgrammeQuery(session)
        self.programme_rows = ProgrammeRecords(session)
        self.register = RegisterRecords(session)
        self.hours = HoursRecords(session)
        self.register_rows = RegisterRows(session)
        self.search = SearchQuery(session)
        self.past = PastRecords(session)
        self.papers = PaperRecords(session)
        self.outside = OutsideRecords(session)
        self.keying = KeyingRecords(session)
        self.taking_drafts = TakingDraftRecords(session)
        self.sisters = SisterQuery(session)
        self.findings = FindingQuery(session)
        self.forecasts = ForecastRecords(session)
        self.judging = JudgingQuery(session)
        self.intervals = IntervalQuery(session)

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
