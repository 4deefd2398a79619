"""What stands on a laboratory's paper, in one statement for one compartment."""

from collections.abc import Collection

from sqlalchemy import and_, select

from fluiddesk.domain.identity import CompartmentId
from fluiddesk.storage.session import Session
from fluiddesk.storage.tables.sampling import ReadingRow, ResultSheetRow, SampleRow


class PrintedQuery:
    """Reads the printed texts of result sheets in force."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def of(self, compartment: CompartmentId) -> list[tuple[bytes, int, str, str]]:
        """Sample, analyte number, text and unit of every value in force of a compartment."""
        row, sheet = ReadingRow, ResultSheetRow
        wanted = (
            select(sheet.sample_id, row.analyte_number, row.printed, row.printed_unit)
            .join(sheet, and_(sheet.site_id == row.site_id, sheet.id == row.sheet_id))
            .join(
                SampleRow,
                and_(SampleRow.site_id == sheet.site_id, SampleRow.id == sheet.sample_id),
            )
            .where(
                self._session.any_site(SampleRow.site_id),
                SampleRow.compartment_id == compartment,
                sheet.is_current,
            )
        )
        found = self._session.connection.execute(wanted)
        return [(key, number, text, unit) for key, number, text, unit in found]

    def of_sheets(self, sheets: Collection[bytes]) -> list[tuple[bytes, int, str]]:
        """Sheet, analyte number and text of every value of some sheets, in force or not."""
        row = ReadingRow
        wanted = select(row.sheet_id, row.analyte_number, row.printed).where(
            self._session.any_site(row.site_id), row.sheet_id.in_(list(sheets))
        )
        return [
            (key, number, text) for key, number, text in self._session.connection.execute(wanted)
        ]
