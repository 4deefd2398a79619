"""A row of a file that was put aside: its cells, what a person corrects, and why it waits."""

from dataclasses import dataclass, field
from datetime import date, datetime
from typing import TYPE_CHECKING

from fluiddesk.services.lab_intake.held import HeldRowFacts
from fluiddesk.services.workplace import Workplace

if TYPE_CHECKING:
    from fluiddesk.services.changes import Changes


@dataclass
class HeldRowState:
    """The cells of one row; ``corrected`` by their place in the row."""

    held: HeldRowFacts
    corrected: dict[int, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        # Empty cells under no heading are the paper's margin.
        self.places = [
            at for at, (heading, text) in enumerate(self.held.cells) if heading.strip() or text
        ]

    def heading(self, row: int) -> str:
        """The heading over a cell."""
        return self.held.cells[self.places[row]][0]

    def printed(self, row: int) -> str:
        """The cell as the file has it."""
        return self.held.cells[self.places[row]][1]

    def text(self, row: int) -> str:
        """The cell as it would be taken in."""
        return self.corrected.get(self.places[row], self.printed(row))

    def is_corrected(self, row: int) -> bool:
        """Whether a person changed the cell."""
        return self.places[row] in self.corrected

    def correct(self, row: int, text: str) -> None:
        """Change a cell; the text of the file takes the correction back."""
        if text == self.printed(row):
            self.corrected.pop(self.places[row], None)
        else:
            self.corrected[self.places[row]] = text


def held_title(held: HeldRowFacts) -> str:
    """Which row it is."""
    code = held.bottle_code or "no bottle code"
    return f"Row {held.row} of {held.file_name}, {code}"


def held_since(held: HeldRowFacts) -> str:
    """Who put it aside, when, and which layout read it."""
    return (
        f"Put aside on {held.since:%Y-%m-%d} as {held.who} took the file in, read as {held.layout}"
    )


@dataclass(frozen=True, kw_only=True)
class HeldCalls:
    """What the page asks of the services, on one workplace."""

    place: Workplace

    def find(self, intake_id: bytes, row: int) -> HeldRowFacts | None:
        """One row that waits; ``None`` where it does not wait any more."""
        from fluiddesk.services.lab_intake.held import held_rows

        waiting = held_rows(self.place)
        return next((one for one in waiting if (one.intake_id, one.row) == (intake_id, row)), None)

    def release(self, state: HeldRowState, *, moment: datetime, today: date) -> "Changes":
        """Take the row in with what was corrected."""
        from fluiddesk.services.lab_intake.held import release_row

        return release_row(
            self.place,
            state.held,
            corrected=dict(state.corrected),
            moment=moment,
            today=today,
        )

    def settle(self, held: HeldRowFacts, *, outcome: str, moment: datetime) -> None:
        """Give the row up."""
        from fluiddesk.services.lab_intake.held import settle_row

        settle_row(self.place, held, outcome=outcome, moment=moment)
