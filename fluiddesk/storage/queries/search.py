"""What people search by: numbers, serials, bottle codes, report numbers, words; page by page.

Pages follow the primary key, so that no cursor stays open and no page costs more than another.
"""

from collections.abc import Iterator
from typing import Any, Final

from fluiddesk.storage.session import Session

PAGE: Final = 20_000

_MACHINES: Final = (
    "SELECT m.id, s.name, m.code, m.serial, m.model, m.kind FROM machine m "
    "JOIN site s ON s.site_id = m.site_id ORDER BY s.name, m.code"
)
_BOXES: Final = (
    "SELECT c.id, c.machine_id, c.kind, c.position FROM compartment c "
    "ORDER BY c.site_id, c.machine_id, c.kind, c.position"
)
_COMPONENTS: Final = (
    "SELECT serial, compartment_id FROM component_fit WHERE serial <> '' ORDER BY serial, fitted_on"
)
_BOTTLES: Final = (
    "SELECT site_id, id, compartment_id, bottle_code, note FROM sample "
    "WHERE (bottle_code <> '' OR note <> ''){after} ORDER BY site_id, id LIMIT {page}"
)
_REPORTS: Final = (
    "SELECT r.site_id, r.id, r.sample_id, x.compartment_id, r.report_number, r.remark "
    "FROM result_sheet r JOIN sample x ON x.site_id = r.site_id AND x.id = r.sample_id "
    "WHERE r.voided_reason IS NULL{after} ORDER BY r.site_id, r.id LIMIT {page}"
)


class SearchQuery:
    """Reads the texts of the whole store."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def machines(self) -> list[tuple[Any, ...]]:
        """Every machine: its identifier, site, number, serial, model and kind."""
        return self._session.rows(_MACHINES)

    def boxes(self) -> list[tuple[Any, ...]]:
        """Every compartment: its identifier, machine, kind and position."""
        return self._session.rows(_BOXES)

    def components(self) -> list[tuple[Any, ...]]:
        """Every component that is or was fitted: its serial and the compartment."""
        return self._session.rows(_COMPONENTS)

    def bottles(self) -> Iterator[list[tuple[Any, ...]]]:
        """Samples with a bottle code or a note, in pages.

        Each is the site, the sample, its compartment, the bottle's code and the note.
        """
        yield from self._pages(_BOTTLES, "site_id, id")

    def reports(self) -> Iterator[list[tuple[Any, ...]]]:
        """Result sheets that are not voided, in pages.

        Each is the site, the sheet, its sample and compartment, the report's number and remark.
        """
        yield from self._pages(_REPORTS, "r.site_id, r.id")

    def _pages(self, statement: str, key: str) -> Iterator[list[tuple[Any, ...]]]:
        place = "?" if self._session.is_sqlite else "%s"
        after, last = "", ()
        while True:
            page = self._session.rows(statement.format(after=after, page=PAGE), last)
            if page:
                yield page
            if len(page) < PAGE:
                return
            after, last = f" AND ({key}) > ({place}, {place})", page[-1][:2]
