"""The clerk's queue: which lines are shown, under which headings, and the page's sentence."""

from dataclasses import dataclass, field
from enum import IntEnum, StrEnum

from fluiddesk.services.keyed_results.facts import QueueLine, ResultsQueue


class QueuePart(StrEnum):
    """The lists of the queue, in their order on the page."""

    ALL = "all"
    BEGUN = "begun"
    OPEN = "open"
    HELD = "held"
    WAITING = "waiting"


class QueueColumn(IntEnum):
    """Columns of the queue."""

    BOTTLE = 0
    MACHINE = 1
    COMPARTMENT = 2
    SITE = 3
    DRAWN = 4
    DAYS = 5
    LAST = 6
    NOTE = 7


HEADINGS = {
    QueuePart.OPEN: "Warnings open",
    QueuePart.HELD: "Held back",
    QueuePart.BEGUN: "Begun",
    QueuePart.WAITING: "At the laboratory",
}

SECOND_WORDS = {
    "off": "once",
    "same": "twice, by one person",
    "other": "twice, by two persons",
}
"""How values that decide a verdict are entered, by the mode of the second entry."""


@dataclass(frozen=True, slots=True, kw_only=True)
class QueueRow:
    """One row: a heading where ``line`` is ``None``."""

    part: QueuePart
    line: QueueLine | None = None

    @property
    def title(self) -> str:
        """The words of a heading."""
        return HEADINGS[self.part]


@dataclass
class QueueState:
    """The rows of the queue under one filter."""

    queue: ResultsQueue
    part: QueuePart = QueuePart.ALL
    rows: tuple[QueueRow, ...] = field(init=False, default=())

    def __post_init__(self) -> None:
        self.show(self.part)

    def lines(self, part: QueuePart) -> tuple[QueueLine, ...]:
        """The lines of one list."""
        lists = {
            QueuePart.OPEN: self.queue.warnings_open,
            QueuePart.HELD: self.queue.held_back,
            QueuePart.BEGUN: self.queue.to_key,
            QueuePart.WAITING: self.queue.waiting,
        }
        return lists[part]

    def count(self, part: QueuePart) -> int:
        """How many lines a chip would show."""
        if part is QueuePart.ALL:
            return sum(len(self.lines(one)) for one in HEADINGS)
        return len(self.lines(part))

    def show(self, part: QueuePart) -> None:
        """Show one list, or all of them under headings."""
        self.part = part
        if part is not QueuePart.ALL:
            self.rows = tuple(QueueRow(part=part, line=line) for line in self.lines(part))
            return
        rows: list[QueueRow] = []
        for one in HEADINGS:
            lines = self.lines(one)
            if lines:
                rows.append(QueueRow(part=one))
                rows += [QueueRow(part=one, line=line) for line in lines]
        self.rows = tuple(rows)

    def text(self, row: int, column: QueueColumn) -> str:
        """What one cell says."""
        shown = self.rows[row]
        line = shown.line
        if line is None:
            return shown.title if column is QueueColumn.BOTTLE else ""
        cells = {
            QueueColumn.BOTTLE: line.bottle_code or "no code",
            QueueColumn.MACHINE: line.machine,
            QueueColumn.COMPARTMENT: line.compartment,
            QueueColumn.SITE: line.site,
            QueueColumn.DRAWN: line.taken_on.isoformat() if line.taken_on else "",
            QueueColumn.DAYS: "" if line.days is None else str(line.days),
            QueueColumn.LAST: line.last_severity.word if line.machine else "",
            QueueColumn.NOTE: line.note,
        }
        return cells[column]


def queue_sentence(queue: ResultsQueue) -> str:
    """What waits for the clerk, in one sentence; the empty parts are left out."""
    parts = (
        (len(queue.waiting), "bottle at the laboratory", "bottles at the laboratory"),
        (len(queue.to_key), "report begun", "reports begun"),
        (len(queue.warnings_open), "with warnings open", "with warnings open"),
        (len(queue.held_back), "row held back", "rows held back"),
    )
    told = [f"{count} {one if count == 1 else many}" for count, one, many in parts if count]
    if not told:
        return "Nothing waits: every bottle is answered for."
    return f"{', '.join(told)}."
