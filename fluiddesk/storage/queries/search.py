"""What people search by: numbers, serials, bottle codes, report numbers, words; page by page.

Pages follow the primary key: no page costs more than another, and writers wait for one at most.
"""

from typing import Any, Final

from fluiddesk.storage.session import Session

PAGE: Final = 20_000

Key = tuple[int, bytes]
"""A site and a row: the last one of a page."""

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
_OWNED: Final = (
    "SELECT o.owner_id, o.{text}, coalesce(x.compartment_id, y.compartment_id, z.compartment_id), "
    "coalesce(x.id, y.id) FROM {table} o "
    "LEFT JOIN sample x ON x.site_id = o.site_id AND x.id = o.owner_id "
    "LEFT JOIN result_sheet r ON r.site_id = o.site_id AND r.id = o.owner_id "
    "LEFT JOIN sample y ON y.site_id = r.site_id AND y.id = r.sample_id "
    "LEFT JOIN sampling_point z ON z.site_id = o.site_id AND z.id = o.owner_id "
    "WHERE o.voided_reason IS NULL ORDER BY o.site_id, o.id"
)
_FLUID_SAMPLES: Final = (
    "SELECT f.id, s.name, f.bottle_code, f.container, f.kind, f.fluid_code, f.note, "
    "r.report_number, r.remark FROM fluid_sample f JOIN site s ON s.site_id = f.site_id "
    "LEFT JOIN fluid_sheet r "
    "ON r.site_id = f.site_id AND r.fluid_sample_id = f.id AND r.is_current "
    "ORDER BY f.site_id, f.id"
)
_TANKS: Final = (
    "SELECT t.id, s.name, t.code, t.fluid_code, t.location FROM fluid_tank t "
    "JOIN site s ON s.site_id = t.site_id ORDER BY t.site_id, t.code"
)
_DELIVERIES: Final = (
    "SELECT b.id, s.name, b.batch, b.fluid_code FROM fluid_batch b "
    "JOIN site s ON s.site_id = b.site_id ORDER BY b.site_id, b.batch, b.id"
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

    def bottles(self, after: Key | None = None) -> list[tuple[Any, ...]]:
        """A page of the samples with a bottle code or a note, after a site and sample.

        Each is the site, the sample, its compartment, the bottle's code and the note.
        """
        return self._page(_BOTTLES, "site_id, id", after)

    def reports(self, after: Key | None = None) -> list[tuple[Any, ...]]:
        """A page of the result sheets that are not voided, after a site and sheet.

        Each is the site, the sheet, its sample and compartment, the report's number and remark.
        """
        return self._page(_REPORTS, "r.site_id, r.id", after)

    def papers(self) -> list[tuple[Any, ...]]:
        """Papers that stand: the owner, the file's name, and the owner's compartment and sample."""
        return self._session.rows(_OWNED.format(table="attachment", text="file_name"))

    def remarks(self) -> list[tuple[Any, ...]]:
        """Remarks that stand: the owner, the words, and the owner's compartment and sample."""
        return self._session.rows(_OWNED.format(table="remark", text="words"))

    def fluid_samples(self) -> list[tuple[Any, ...]]:
        """Samples of drums, tanks and new fluid.

        Each is the sample, its site, bottle, container, kind, fluid and note, and the number and
        remark of the report in force.
        """
        return self._session.rows(_FLUID_SAMPLES)

    def tanks(self) -> list[tuple[Any, ...]]:
        """Every tank: its identifier, site, number, fluid and location."""
        return self._session.rows(_TANKS)

    def deliveries(self) -> list[tuple[Any, ...]]:
        """Every delivery of a fluid: its identifier, site, batch number and fluid."""
        return self._session.rows(_DELIVERIES)

    def _page(self, statement: str, key: str, after: Key | None) -> list[tuple[Any, ...]]:
        place = "?" if self._session.is_sqlite else "%s"
        beyond = f" AND ({key}) > ({place}, {place})" if after else ""
        return self._session.rows(statement.format(after=beyond, page=PAGE), after or ())
