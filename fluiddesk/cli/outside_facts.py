"""Rows of the ``fluiddesk outside`` command."""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterable

    from fluiddesk.services.outside_plan.fluid_samples import FluidSampleFacts
    from fluiddesk.services.outside_plan.labels import SpareLabel
    from fluiddesk.services.outside_plan.overview import BoxSampleFacts

BOX_COLUMNS = (
    "bottle", "site", "machine", "compartment", "taken_on", "reason", "origin", "state", "report",
    "rejected", "first_bottle", "note",
)  # fmt: skip
FLUID_COLUMNS = (
    "bottle", "site", "kind", "fluid", "container", "taken_on", "state", "report", "note",
)  # fmt: skip
LABEL_COLUMNS = ("label", "site", "made_on")


def box_rows(samples: "Iterable[BoxSampleFacts]") -> list[dict[str, Any]]:
    """Samples of compartments."""
    return [
        {
            "bottle": one.bottle_code,
            "site": one.site,
            "machine": one.machine,
            "compartment": one.compartment,
            "taken_on": one.taken_on,
            "reason": one.reason.value,
            "origin": one.origin.value,
            "state": one.state.value,
            "report": one.report_number,
            "rejected": one.rejected_reason,
            "first_bottle": one.first_bottle,
            "taken_by": one.taken_by,
            "note": one.note,
        }
        for one in samples
    ]


def fluid_rows(samples: "Iterable[FluidSampleFacts]") -> list[dict[str, Any]]:
    """Samples of fluids."""
    return [
        {
            "bottle": one.bottle_code,
            "site": one.site,
            "kind": one.kind.value,
            "fluid": one.fluid_code,
            "container": one.container,
            "taken_on": one.taken_on,
            "state": one.state.value,
            "report": one.report_number,
            "note": one.note,
        }
        for one in samples
    ]


def label_rows(labels: "Iterable[SpareLabel]") -> list[dict[str, Any]]:
    """Spare labels."""
    return [{"label": one.code, "site": one.site, "made_on": one.issued_on} for one in labels]
