"""The use cases of describing an unknown file, imported when first called."""

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from fluiddesk.services.workplace import Workplace

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fluiddesk.services.lab_intake.mapping import (
        FileGuess,
        MappedColumn,
        ReadingChoices,
    )


@dataclass(frozen=True, kw_only=True)
class MappingCalls:
    """What the page asks of the services, on one workplace."""

    place: Workplace

    def guess(self, path: Path, choices: "ReadingChoices") -> "FileGuess":
        """Read the beginning of a file and suggest what its columns carry."""
        from fluiddesk.services.lab_intake.mapping import guess_file

        return guess_file(self.place, path, choices)

    def check(
        self,
        found: "FileGuess",
        mapped: "Sequence[MappedColumn]",
        *,
        name: str,
        laboratory: str,
        date_forms: "Sequence[str]",
    ) -> None:
        """Raise what keeps a mapping from being saved."""
        from fluiddesk.services.lab_intake.mapping import layout_of

        layout_of(found, mapped, name=name, laboratory=laboratory, date_forms=date_forms)

    def save(
        self,
        found: "FileGuess",
        mapped: "Sequence[MappedColumn]",
        *,
        name: str,
        laboratory: str,
        date_forms: "Sequence[str]",
        title: str,
        moment: datetime,
    ) -> str:
        """Keep the mapping as a laboratory layout; its name."""
        from fluiddesk.services.lab_intake.mapping import layout_of, save_layout

        layout = layout_of(found, mapped, name=name, laboratory=laboratory, date_forms=date_forms)
        return save_layout(self.place, layout, title=title, moment=moment)
