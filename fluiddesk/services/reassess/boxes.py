"""What of a compartment decides how its samples are judged."""

from typing import NamedTuple

from fluiddesk.domain.identity import CompartmentId, SiteId
from fluiddesk.domain.limits.limit_set import Box


class BoxFacts(NamedTuple):
    """What of a compartment decides its limits, and how it stands; fields as ``BOX_COLUMNS``."""

    site_id: SiteId
    compartment_id: CompartmentId
    site: str
    machine: str
    machine_kind: str
    model: str
    kind: str
    position: str
    fluid_class: str
    severity: int | None
    sample_id: bytes | None
    machine_id: bytes
    residue_share: float
    capacity_l: float
    interval_hours: float | None
    interval_days: int | None
    fluid_code: str
    test_list: str | None

    @property
    def box(self) -> Box:
        """The facts that limits look at."""
        return Box(
            machine_kind=self.machine_kind,
            model=self.model,
            compartment_kind=self.kind,
            compartment=self.compartment_id.hex(),
            fluid_class=self.fluid_class,
        )
