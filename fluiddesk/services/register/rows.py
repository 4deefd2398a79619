"""Rows of the store as the facts that the register shows."""

import json
from collections.abc import Mapping
from typing import Any

from fluiddesk.domain.fleet import MachineState
from fluiddesk.domain.identity import CompartmentId, MachineId, SiteId
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.register.facts import (
    BatchFacts,
    CompartmentFacts,
    LaboratoryFacts,
    MachineFacts,
    MeterFacts,
    PointFacts,
    ReadingFacts,
    SiteFacts,
    StateFacts,
    TankFacts,
    UserFacts,
)

Row = Mapping[str, Any]


def site_facts(row: Row) -> SiteFacts:
    """A site."""
    return SiteFacts(
        site=SiteId(row["site_id"]),
        name=row["name"],
        time_zone=row["time_zone"],
        dust_shares=json.loads(row["dust_shares"]),
        version=row["version"],
    )


def machine_facts(row: Row, catalogue: Catalogue, **shown: Any) -> MachineFacts:
    """A machine; ``shown`` are the fields that come from other tables."""
    return MachineFacts(
        site=SiteId(row["site_id"]),
        id=MachineId(row["id"]),
        code=row["code"],
        kind=row["kind"],
        model=row["model"],
        serial=row["serial"],
        in_service_on=row["in_service_on"],
        state=MachineState(row["state"]),
        criticality=row["criticality"],
        cost_per_down_hour=row["cost_per_down_hour"],
        machine_uuid=row["machine_uuid"],
        kind_name=catalogue.machine_kind_name(row["kind"]),
        version=row["version"],
        **shown,
    )


def state_facts(row: Row) -> StateFacts:
    """A state of a machine and since when."""
    return StateFacts(state=MachineState(row["state"]), since=row["since"], note=row["note"])


def meter_facts(row: Row, last: ReadingFacts | None) -> MeterFacts:
    """A meter with what it showed last."""
    return MeterFacts(
        site=SiteId(row["site_id"]),
        machine=MachineId(row["machine_id"]),
        id=row["id"],
        unit=row["kind"],
        fitted_on=row["fitted_on"],
        removed_on=row["removed_on"],
        start_value=row["start_value"],
        end_value=row["end_value"],
        hours_before=row["hours_before"],
        rolls_over_at=row["rolls_over_at"],
        last_value=last.value if last else None,
        last_read_on=last.read_on if last else None,
        version=row["version"],
    )


def reading_facts(row: Row) -> ReadingFacts:
    """A meter reading."""
    return ReadingFacts(
        site=SiteId(row["site_id"]),
        machine=MachineId(row["machine_id"]),
        id=row["id"],
        read_on=row["read_on"],
        value=row["value"],
        source=row["source"],
        true_hours=row["true_hours"],
        meter=row["meter_id"],
        voided_reason=row["voided_reason"],
    )


def compartment_facts(row: Row, *, name: str, machine_code: str, serial: str) -> CompartmentFacts:
    """A compartment with the words for it."""
    return CompartmentFacts(
        site=SiteId(row["site_id"]),
        machine=MachineId(row["machine_id"]),
        id=CompartmentId(row["id"]),
        kind=row["kind"],
        position=row["position"],
        fluid=row["fluid_code"],
        capacity_l=row["capacity_l"],
        residue_share=row["residue_share"],
        filter_micron=row["filter_micron"],
        interval_hours=row["interval_hours"],
        interval_days=row["interval_days"],
        change_interval_hours=row["change_interval_hours"],
        change_interval_days=row["change_interval_days"],
        criticality=row["criticality"],
        test_list=row["test_list_code"] or "",
        retired=row["retired"],
        name=name,
        machine_code=machine_code,
        component_serial=serial,
        version=row["version"],
    )


def point_facts(row: Row) -> PointFacts:
    """A sampling point."""
    return PointFacts(
        site=SiteId(row["site_id"]),
        compartment=CompartmentId(row["compartment_id"]),
        id=row["id"],
        kind=row["kind"],
        location=row["location"],
        marking=row["marking"],
        run_state=row["run_state"],
        flush_ml=row["flush_ml"],
        tube_mm=row["tube_mm"],
        hazards=row["hazards"],
        retired=row["retired"],
        version=row["version"],
    )


def batch_facts(row: Row) -> BatchFacts:
    """A delivery of a fluid."""
    return BatchFacts(
        site=SiteId(row["site_id"]),
        id=row["id"],
        fluid=row["fluid_code"],
        batch=row["batch"],
        delivered_on=row["delivered_on"],
        reference_number=row["reference_number"],
        version=row["version"],
    )


def tank_facts(row: Row) -> TankFacts:
    """A tank."""
    return TankFacts(
        site=SiteId(row["site_id"]),
        id=row["id"],
        code=row["code"],
        fluid=row["fluid_code"],
        capacity_l=row["capacity_l"],
        location=row["location"],
        retired=row["retired"],
        version=row["version"],
    )


def laboratory_facts(row: Row) -> LaboratoryFacts:
    """A laboratory."""
    return LaboratoryFacts(
        code=row["code"],
        name=row["name"],
        site_name=row["site_name"],
        layout=row["layout"],
        methods=json.loads(row["methods"]),
        lane_days=row["lane_days"],
        turnaround_days=row["turnaround_days"],
        retired=row["retired"],
        version=row["version"],
    )


def user_facts(row: Row) -> UserFacts:
    """A person at the desk."""
    return UserFacts(
        name=row["name"], role=row["role"], is_active=row["is_active"], version=row["version"]
    )
