"""The catalogues that all sites share: analytes, fluids and their references, laboratories."""

import json
from collections.abc import Iterable, Mapping
from datetime import date

from sqlalchemy import func, select

from fluiddesk.domain.fluids.product import FluidProduct, NewFluidReference
from fluiddesk.storage.records.rows import ReferenceRecord
from fluiddesk.storage.session import Session, canonical_json
from fluiddesk.storage.tables.catalogue import (
    FluidReferenceRow,
    FluidRow,
    LaboratoryRow,
)


class CatalogueRecords:
    """Reads and adds entries of the shared catalogues."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def analytes(self) -> dict[str, int]:
        """The number of each analyte's code."""
        return dict(self._session.analyte_numbers())

    def add_analytes(self, entries: Iterable[tuple[int, str, str]]) -> None:
        """Add analytes as (number, code, unit); those already there are left as they are."""
        known = self.analytes()
        new = [entry for entry in entries if entry[1] not in known]
        self._session.load("analyte", ("number", "code", "unit"), new)
        self._session.forget_analytes()

    def fluids(self) -> list[FluidProduct]:
        """Every fluid with its references, by code."""
        references: dict[str, list[NewFluidReference]] = {}
        row = FluidReferenceRow
        wanted = select(row.fluid_code, row.valid_from, row.reference_values, row.source)
        for found in self._session.connection.execute(wanted.order_by(row.valid_from, row.number)):
            references.setdefault(found.fluid_code, []).append(
                NewFluidReference(
                    valid_from=found.valid_from,
                    values=json.loads(found.reference_values),
                    source=found.source,
                )
            )
        entries = self._session.connection.execute(select(FluidRow.__table__).order_by("code"))
        return [
            FluidProduct(
                code=found.code,
                name=found.name,
                fluid_class=found.fluid_class,
                viscosity_grade=found.viscosity_grade,
                density_kg_per_l=found.density_kg_per_l,
                references=tuple(references.get(found.code, ())),
            )
            for found in entries
        ]

    def references(self) -> dict[int, ReferenceRecord]:
        """Every new-fluid reference by its number."""
        row = FluidReferenceRow
        found = self._session.connection.execute(
            select(row.number, row.fluid_code, row.valid_from, row.reference_values)
        )
        return {
            one.number: ReferenceRecord(
                one.fluid_code, one.valid_from, json.loads(one.reference_values)
            )
            for one in found
        }

    def add_fluids(self, fluids: Iterable[FluidProduct]) -> None:
        """Add fluids and their references, numbered on from the highest number there is."""
        entries = list(fluids)
        columns = ("code", "name", "fluid_class", "viscosity_grade", "density_kg_per_l")
        rows = [
            (one.code, one.name, one.fluid_class, one.viscosity_grade, float(one.density_kg_per_l))
            for one in entries
        ]
        self._session.load("fluid", columns, rows)
        for one in entries:
            for reference in one.references:
                self.add_reference(
                    one.code,
                    valid_from=reference.valid_from,
                    values=reference.values,
                    source=reference.source,
                )

    def add_reference(
        self, fluid_code: str, *, valid_from: date, values: Mapping[str, float], source: str
    ) -> int:
        """Add a reference of a fluid that holds from a day on; returns its number (from 0)."""
        newest = select(func.coalesce(func.max(FluidReferenceRow.number), -1) + 1)
        number = int(self._session.connection.execute(newest).scalar_one())
        columns = ("number", "fluid_code", "valid_from", "source", "reference_values")
        row = (number, fluid_code, valid_from, source, canonical_json(dict(values)))
        self._session.load("fluid_reference", columns, [row])
        return number

    def laboratories(self) -> dict[str, str]:
        """The name of each laboratory's code."""
        wanted = select(LaboratoryRow.code, LaboratoryRow.name).order_by(LaboratoryRow.code)
        return dict(self._session.connection.execute(wanted).all())

    def add_laboratories(self, names: Mapping[str, str]) -> None:
        """Add laboratories, code to name; those already there are left as they are."""
        known = self.laboratories()
        new = [(code, name) for code, name in names.items() if code not in known]
        self._session.load("laboratory", ("code", "name"), new)
