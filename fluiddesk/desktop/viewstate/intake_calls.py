"""The use cases of the Results page, imported when first called: reading files is heavy to load."""

from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Protocol

from fluiddesk.services.lab_intake.facts import IntakePreview, IntakeResult, PastIntake
from fluiddesk.services.workplace import Workplace


class Telling(Protocol):
    """Told how far work is; answers whether to go on."""

    def __call__(self, done: int, total: int | None) -> bool: ...


@dataclass(frozen=True, kw_only=True)
class IntakeCalls:
    """What the page asks of the services, on one workplace."""

    place: Workplace

    def preview(
        self, path: Path, *, layout_name: str | None, today: date, progress: Telling
    ) -> IntakePreview:
        """Read a laboratory's file; nothing is changed."""
        from fluiddesk.services.lab_intake.preview import preview_lab_file

        return preview_lab_file(
            self.place, path, layout_name=layout_name, today=today, progress=progress
        )

    def take_in(
        self, preview: IntakePreview, *, moment: datetime, today: date, progress: Telling
    ) -> IntakeResult:
        """Save what is sound in a file that was read."""
        from fluiddesk.services.lab_intake.take_in import take_in

        return take_in(self.place, preview, moment=moment, today=today, progress=progress)

    def undo(self, intake_id: bytes, *, moment: datetime, today: date) -> IntakeResult:
        """Supersede what an intake saved by what stood before."""
        from fluiddesk.services.lab_intake.take_in import undo_intake

        return undo_intake(self.place, intake_id, moment=moment, today=today)

    def past(self) -> tuple[PastIntake, ...]:
        """The files taken in before."""
        from fluiddesk.services.lab_intake.take_in import past_intakes

        return past_intakes(self.place)

    def layouts(self) -> dict[str, str]:
        """The layouts a file can be read by: each name with what to show for it."""
        from fluiddesk.services.lab_intake.layout_titles import layout_titles

        return layout_titles(self.place)
