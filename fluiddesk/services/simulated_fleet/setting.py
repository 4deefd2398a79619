"""The catalogue as the simulator wants it."""

from datetime import date

from fluiddesk.domain.analytes import Analyte
from fluiddesk.services.catalogue import Catalogue, MachineKind
from fluiddesk.simulation.setting import (
    AnalyteFacts,
    BoxFacts,
    CompartmentKindFacts,
    FluidFacts,
    MachineKindFacts,
    Setting,
    usual_fluid,
)

_PREFIXES = {
    "excavator": "EX",
    "wheel_loader": "WL",
    "rigid_truck": "RT",
    "articulated_truck": "AT",
    "dozer": "DZ",
    "grader": "GR",
    "drill": "DR",
}
_USUAL_INTERVAL_HOURS = 500.0
_NOT_SAMPLED_BY_MACHINE = "fuel"
"""Boxes of this group get no visits in a simulation: fuel is sampled by delivery."""


def setting_of(catalogue: Catalogue, *, on: date) -> Setting:
    """The facts of the catalogue, with the new-fluid references valid on a day."""
    kinds = catalogue.compartment_kinds
    return Setting(
        analytes=tuple(_analyte(one) for one in catalogue.analytes.values()),
        fluids=tuple(
            FluidFacts(code=fluid.code, reference=dict(reference.values))
            for fluid in catalogue.fluids.values()
            if (reference := fluid.reference_on(on)) is not None
        ),
        compartment_kinds=tuple(
            CompartmentKindFacts(
                code=kind.code,
                capacity_l=kind.capacity_l,
                residue_share=kind.residue_share,
                interval_hours=kind.interval_hours or _USUAL_INTERVAL_HOURS,
            )
            for kind in kinds.values()
            if kind.group != _NOT_SAMPLED_BY_MACHINE
        ),
        machine_kinds=tuple(
            _machine_kind(kind, catalogue) for kind in catalogue.machine_kinds.values()
        ),
    )


def _analyte(analyte: Analyte) -> AnalyteFacts:
    return AnalyteFacts(
        number=analyte.number,
        code=analyte.code,
        decimals=analyte.decimals,
        detection_limit=analyte.detection_limit,
        reproducibility=analyte.reproducibility,
        significant_figures=analyte.significant_figures,
        is_presence_test=analyte.is_presence_test,
    )


def _machine_kind(kind: MachineKind, catalogue: Catalogue) -> MachineKindFacts:
    boxes = zip(kind.boxes, kind.capacities_l, strict=True)
    return MachineKindFacts(
        code=kind.code,
        prefix=_PREFIXES.get(kind.code, kind.code[:2].upper()),
        boxes=tuple(
            BoxFacts(kind=code, position=position, fluid=usual_fluid(code), capacity_l=capacity)
            for (code, position), capacity in boxes
            if catalogue.compartment_kinds[code].group != _NOT_SAMPLED_BY_MACHINE
        ),
    )
