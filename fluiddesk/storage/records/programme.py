"""Small changes of the programme's rows that no other record covers."""

from datetime import date, datetime

from sqlalchemy import select, update

from fluiddesk.domain.identity import SampleId, SiteId
from fluiddesk.storage.session import Session
from fluiddesk.storage.tables.programme import CustodyStepRow
from fluiddesk.storage.tables.sampling import BottleRow, SampleRow, ShipmentBottleRow


class ProgrammeRecords:
    """Names samplers, loads shipments, and tells where a bottle is."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def name_sampler(self, site: SiteId, sample: SampleId, who: str) -> None:
        """Write who drew a sample."""
        row = SampleRow
        self._session.connection.execute(
            update(row).where(row.site_id == site, row.id == sample).values(taken_by=who)
        )

    def put_in_shipment(self, site: SiteId, shipment: bytes, codes: list[str]) -> None:
        """Say which bottles travel in a shipment."""
        rows = [(int(site), shipment, code) for code in codes]
        self._session.load("shipment_bottle", ("site_id", "shipment_id", "bottle_code"), rows)

    def in_shipment(self, shipment: bytes) -> list[str]:
        """The bottles of a shipment."""
        row = ShipmentBottleRow
        wanted = select(row.bottle_code).where(
            self._session.any_site(row.site_id), row.shipment_id == shipment
        )
        return list(self._session.connection.execute(wanted.order_by(row.bottle_code)).scalars())

    def sites_of(self, codes: list[str]) -> dict[str, SiteId]:
        """The site each labelled bottle belongs to; codes nobody issued are left out."""
        row = BottleRow
        wanted = select(row.code, row.site_id).where(
            self._session.any_site(row.site_id), row.code.in_(codes)
        )
        return {code: SiteId(site) for code, site in self._session.connection.execute(wanted)}

    def steps_of(self, code: str) -> list[tuple[str, datetime, str, str, str]]:
        """Every hand-over of a bottle that stands: step, moment, how known, by whom, note."""
        row = CustodyStepRow
        wanted = (
            select(row.step, row.at, row.known_by, row.created_by, row.note)
            .where(
                self._session.any_site(row.site_id),
                row.bottle_code == code,
                row.voided_reason.is_(None),
            )
            .order_by(row.at, row.id)
        )
        found = self._session.connection.execute(wanted)
        return [(step, at, known, who, note) for step, at, known, who, note in found]

    def reported_days(self) -> dict[str, tuple[date | None, datetime]]:
        """By bottle code, when the sheet in force was issued and when it was saved here."""
        from fluiddesk.storage.tables.sampling import ResultSheetRow

        sheet, sample = ResultSheetRow, SampleRow
        wanted = (
            select(sample.bottle_code, sheet.issued_on, sheet.created_at)
            .join(sheet, (sheet.site_id == sample.site_id) & (sheet.sample_id == sample.id))
            .where(sheet.is_current, sample.bottle_code != "")
        )
        return {code: (on, at) for code, on, at in self._session.connection.execute(wanted)}
