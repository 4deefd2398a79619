"""The register files: which there are, in which order they are read, and their columns."""

from dataclasses import dataclass
from functools import partial
from typing import Any, Final

from fluiddesk.domain.fleet import Certainty, EventKind, MachineState
from fluiddesk.services.register.boxes import POINT_KINDS
from fluiddesk.services.register_files.cells import (
    Reader,
    number,
    one_of,
    read_codes,
    read_day,
    read_key,
    read_shares,
    read_text,
    read_time_zone,
    read_yes_no,
    whole,
    words,
)

CORRECT: Final = "Fill in the cell."


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column of a register file.

    ``needed``: a new record cannot be without it, and the cell is never empty. ``default`` is what
    an empty cell means; ``remedy`` is told where a needed cell is empty.
    """

    name: str
    read: Reader
    needed: bool = False
    default: Any = None
    remedy: str = CORRECT
    is_number: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class FileKind:
    """One list of the register. ``thing`` and ``things`` name its records in sentences.

    ``takes_analytes``: every further column that is named after an analyte holds its value.
    """

    name: str
    thing: str
    things: str
    columns: tuple[Column, ...]
    takes_analytes: bool = False

    def column(self, name: str) -> Column | None:
        """The column of that name."""
        return next((one for one in self.columns if one.name == name), None)


def _column(
    name: str,
    read: Reader = read_text,
    *,
    needed: bool = False,
    default: Any = None,
    remedy: str = CORRECT,
) -> Column:
    return Column(name=name, read=read, needed=needed, default=default, remedy=remedy)


def _figure(
    name: str,
    read: Reader | None = None,
    *,
    needed: bool = False,
    default: Any = None,
    remedy: str = CORRECT,
) -> Column:
    reader = number(at_least=0, remedy="Write 0 or more.") if read is None else read
    return Column(
        name=name, read=reader, needed=needed, default=default, remedy=remedy, is_number=True
    )


_note = partial(_column, default="")
_CRITICALITY: Final = _figure(
    "criticality",
    whole(at_least=1, at_most=5, remedy="Write 1 (least) to 5 (most)."),
    default=3,
)
_SITE: Final = _note("site")
_MACHINE: Final = _column("machine", needed=True, remedy="Write the machine's number.")
_COMPARTMENT: Final = _column(
    "compartment", needed=True, remedy="Write the kind of compartment, for example engine."
)
_POSITION: Final = _note("position")
_STATES: Final = words(*(state.value for state in MachineState))
_NO_CHANGE: Final = "Write the hours or days between fluid changes; leave it empty for none."
_NO_INTERVAL: Final = "Write the hours or days between samples; leave it empty for none."
_CAPACITY: Final = "Write the litres of a fill, from the machine's manual."
_ABOVE_0: Final = partial(number, above=0)

SITES: Final = FileKind(
    name="sites",
    thing="site",
    things="sites",
    columns=(
        _column("site", needed=True, remedy="Write the site's name."),
        _column("time_zone", read_time_zone, default="UTC"),
        _column("dust_shares", read_shares),
    ),
)
FLUIDS: Final = FileKind(
    name="fluids",
    thing="fluid",
    things="fluids",
    columns=(
        _column("fluid", needed=True, remedy="Write a short code for the fluid."),
        _column("name", needed=True, remedy="Write the fluid's name by its grade."),
        _column("fluid_class", needed=True, remedy="Write its class, for example engine_oil."),
        _note("viscosity_grade"),
        _figure(
            "density_kg_per_l",
            number(above=0, at_most=3, remedy="Write kilograms in a litre, for example 0.87."),
            needed=True,
            remedy="Write kilograms in a litre, for example 0.87.",
        ),
        _column("retired", read_yes_no, default=False),
    ),
)
FLUID_REFERENCES: Final = FileKind(
    name="fluid_references",
    thing="new-fluid reference",
    things="new-fluid references",
    columns=(
        _column("fluid", needed=True, remedy="Write the fluid's code."),
        _column("valid_from", read_day, needed=True, remedy="Write the day it holds from."),
        _column("source", needed=True, remedy="Write where the figures come from."),
    ),
    takes_analytes=True,
)
FLUID_BATCHES: Final = FileKind(
    name="fluid_batches",
    thing="fluid batch",
    things="fluid batches",
    columns=(
        _SITE,
        _column("fluid", needed=True, remedy="Write the fluid's code."),
        _column("batch", needed=True, remedy="Write the number on the delivery."),
        _column("delivered_on", read_day, needed=True, remedy="Write the day of delivery."),
        _column("reference_from", read_day),
    ),
)
TANKS: Final = FileKind(
    name="tanks",
    thing="tank",
    things="tanks",
    columns=(
        _SITE,
        _column("tank", needed=True, remedy="Write the tank's number."),
        _column("fluid", needed=True, remedy="Write the code of the fluid in it."),
        _figure("capacity_l", _ABOVE_0(remedy="Write litres; leave it empty where not known.")),
        _note("location"),
        _column("retired", read_yes_no, default=False),
    ),
)
_DAYS: Final = whole(at_least=0, at_most=365, remedy="Write days, or leave it empty.")
LABORATORIES: Final = FileKind(
    name="laboratories",
    thing="laboratory",
    things="laboratories",
    columns=(
        _column("laboratory", needed=True, remedy="Write a short code for the laboratory."),
        _column("name", needed=True, remedy="Write the laboratory's name."),
        _note("site_name"),
        _note("layout"),
        _figure("lane_days", _DAYS),
        _figure("turnaround_days", _DAYS),
        _column("retired", read_yes_no, default=False),
    ),
)
LABORATORY_METHODS: Final = FileKind(
    name="laboratory_methods",
    thing="method of a laboratory",
    things="methods of laboratories",
    columns=(
        _column("laboratory", needed=True, remedy="Write the laboratory's code."),
        _column("analyte", needed=True, remedy="Write the code of an analyte."),
        _note("method"),
    ),
)
TEST_LISTS: Final = FileKind(
    name="test_lists",
    thing="test list",
    things="test lists",
    columns=(
        _column("test_list", needed=True, remedy="Write a short code for the list."),
        _column("name", needed=True, remedy="Write the list's name."),
        _column(
            "analytes", read_codes, needed=True, remedy="Write codes of analytes: iron; copper."
        ),
        _column("compartment_kinds", read_codes, default=()),
        _note("note"),
        _column("retired", read_yes_no, default=False),
    ),
)
MACHINES: Final = FileKind(
    name="machines",
    thing="machine",
    things="machines",
    columns=(
        _SITE,
        _MACHINE,
        _column("kind", needed=True, remedy="Write the kind of machine, for example excavator."),
        _note("model"),
        _note("serial"),
        _column("in_service_on", read_day),
        _column("state", _STATES, default=MachineState.WORKING.value),
        _CRITICALITY,
        _figure("cost_per_down_hour"),
        _column("lasting_id", read_key),
    ),
)
MACHINE_STATES: Final = FileKind(
    name="machine_states",
    thing="change of state",
    things="changes of state",
    columns=(
        _SITE,
        _MACHINE,
        _column("since", read_day, needed=True, remedy="Write the day it began."),
        _column("state", _STATES, needed=True, remedy="Write working, standby, down or sold."),
        _note("note"),
    ),
)
MACHINE_TRANSFERS: Final = FileKind(
    name="machine_transfers",
    thing="transfer",
    things="transfers",
    columns=(
        _SITE,
        _MACHINE,
        _column("to_site", needed=True, remedy="Write the site that took it."),
        _note("to_machine"),
        _column("moved_on", read_day, needed=True, remedy="Write the day it went."),
        _note("note"),
    ),
)
METERS: Final = FileKind(
    name="meters",
    thing="meter",
    things="meters",
    columns=(
        _SITE,
        _MACHINE,
        _column("fitted_on", read_day, needed=True, remedy="Write the day it was fitted."),
        _column("unit", words("h", "km"), default="h"),
        _figure("start_value", default=0.0),
        _figure("hours_before", default=0.0),
        _figure("rolls_over_at", _ABOVE_0(remedy="Write the value at which it starts again.")),
        _column("removed_on", read_day),
        _figure("end_value"),
    ),
)
METER_READINGS: Final = FileKind(
    name="meter_readings",
    thing="meter reading",
    things="meter readings",
    columns=(
        _SITE,
        _MACHINE,
        _column("read_on", read_day, needed=True, remedy="Write the day of the reading."),
        _figure("value", needed=True, remedy="Write what the meter showed."),
        _column(
            "source",
            words("sampler", "telemetry", "fuel_slip", "estimate", "desk"),
            default="desk",
        ),
    ),
)
COMPARTMENTS: Final = FileKind(
    name="compartments",
    thing="compartment",
    things="compartments",
    columns=(
        _SITE,
        _MACHINE,
        _COMPARTMENT,
        _POSITION,
        _column("fluid", needed=True, remedy="Write the code of the fluid in it."),
        _figure("capacity_l", _ABOVE_0(remedy=_CAPACITY), needed=True, remedy=_CAPACITY),
        _figure(
            "residue_share",
            number(at_least=0, at_most=1, remedy="Write the share left by a change, from 0 to 1."),
        ),
        _figure("filter_micron", _ABOVE_0(remedy="Write micrometres; leave it empty for none.")),
        _figure("interval_hours", _ABOVE_0(remedy=_NO_INTERVAL)),
        _figure("interval_days", whole(at_least=1, at_most=36_500, remedy=_NO_INTERVAL)),
        _figure("change_interval_hours", _ABOVE_0(remedy=_NO_CHANGE)),
        _figure("change_interval_days", whole(at_least=1, at_most=36_500, remedy=_NO_CHANGE)),
        _CRITICALITY,
        _note("test_list"),
        _column("retired", read_yes_no, default=False),
    ),
)
POINTS: Final = FileKind(
    name="points",
    thing="sampling point",
    things="sampling points",
    columns=(
        _SITE,
        _MACHINE,
        _COMPARTMENT,
        _POSITION,
        _column(
            "kind",
            one_of(POINT_KINDS),
            needed=True,
            remedy=f"Write one of: {', '.join(POINT_KINDS)}.",
        ),
        _column("location", needed=True, remedy="Write where it is on the machine."),
        _note("marking"),
        _column("run_state", words("running_idle", "shut_down"), default="running_idle"),
        _figure("flush_ml", needed=True, remedy="Write the millilitres to run off first."),
        _figure("tube_mm"),
        _note("hazards"),
        _column("retired", read_yes_no, default=False),
    ),
)
COMPONENT_FITS: Final = FileKind(
    name="component_fits",
    thing="component fit",
    things="component fits",
    columns=(
        _SITE,
        _MACHINE,
        _COMPARTMENT,
        _POSITION,
        _column("serial", needed=True, remedy="Write the component's serial."),
        _column("fitted_on", read_day, needed=True, remedy="Write the day it was fitted."),
        _figure("fitted_at_hours"),
        _figure("hours_before", default=0.0),
        _column("condition", words("new", "overhauled", "used"), default="new"),
        _column("removed_on", read_day),
        _figure("removed_at_hours"),
        _note("reason"),
    ),
)
EVENTS: Final = FileKind(
    name="events",
    thing="event",
    things="events",
    columns=(
        _SITE,
        _MACHINE,
        _COMPARTMENT,
        _POSITION,
        _column(
            "kind",
            words(*(kind.value for kind in EventKind)),
            needed=True,
            remedy="Write what happened, for example fluid_change or top_up.",
        ),
        _column("happened_on", read_day, needed=True, remedy="Write the day it happened."),
        _figure("machine_hours"),
        _figure("meter_value"),
        _figure("litres"),
        _note("fluid"),
        _column(
            "certainty",
            words(*(one.value for one in Certainty)),
            default=Certainty.RECORDED.value,
        ),
        _note("source", default="desk"),
        _note("note"),
    ),
)

FILE_KINDS: Final = (
    SITES, FLUIDS, FLUID_REFERENCES, FLUID_BATCHES, TANKS, LABORATORIES, LABORATORY_METHODS,
    TEST_LISTS, MACHINES, MACHINE_STATES, MACHINE_TRANSFERS, METERS, METER_READINGS, COMPARTMENTS,
    POINTS, COMPONENT_FITS, EVENTS,
)  # fmt: skip
"""In the order in which they are read: each list names only what stands before it."""
