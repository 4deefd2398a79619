"""A register with one invented excavator, and short ways to what its tests ask for."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from fluiddesk.domain.identity import MachineId, SiteId
from fluiddesk.services.register.facts import (
    CompartmentFacts,
    MachineFacts,
    MachineRecord,
    MeterFacts,
    ReadingFacts,
    RegisterFacts,
    SiteFacts,
)
from fluiddesk.services.register.meters import add_reading, replace_meter
from fluiddesk.services.register.read import machine_record, register_facts
from fluiddesk.services.register.saving import Saved
from fluiddesk.services.register.sites import save_site
from fluiddesk.services.register.templates import add_machine_by_template
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import check_store

TODAY = date(2026, 6, 30)
MOMENT = datetime(2026, 6, 30, 12, tzinfo=UTC)
START = date(2024, 1, 1)


@dataclass(frozen=True, kw_only=True)
class Register:
    """An open register with a site and a machine."""

    place: Workplace
    site: SiteId
    machine: MachineId

    def facts(self) -> RegisterFacts:
        return register_facts(self.place, today=TODAY)

    def record(self) -> MachineRecord:
        return machine_record(self.place, self.machine, today=TODAY)

    def box(self, kind: str = "engine", position: str = "") -> CompartmentFacts:
        return next(
            one
            for one in self.record().compartments
            if (one.kind, one.position) == (kind, position)
        )

    def read(self, day: int, value: float) -> Saved:
        facts = ReadingFacts(
            site=self.site, machine=self.machine, read_on=START + timedelta(day), value=value
        )
        return add_reading(self.place, facts, today=TODAY, moment=MOMENT)

    def replace_meter(self, day: int, start: float, ends_last_at: float | None = None) -> Saved:
        facts = MeterFacts(
            site=self.site,
            machine=self.machine,
            fitted_on=START + timedelta(day),
            start_value=start,
        )
        return replace_meter(
            self.place, facts, ends_last_at=ends_last_at, today=TODAY, moment=MOMENT
        )

    def check(self) -> list[str]:
        return check_store(self.place.store)


def add_site(place: Workplace, name: str) -> SiteId:
    saved = save_site(place, SiteFacts(name=name), today=TODAY, moment=MOMENT)
    return SiteId(int(saved.key))


def add_excavator(place: Workplace, site: SiteId, code: str = "EX-01") -> MachineId:
    facts = MachineFacts(site=site, code=code, kind="excavator", model="A", in_service_on=START)
    saved = add_machine_by_template(place, facts, today=TODAY, moment=MOMENT)
    return MachineId(saved.row)


def opened(place: Workplace) -> Register:
    site = add_site(place, "North pit")
    return Register(place=place, site=site, machine=add_excavator(place, site))
