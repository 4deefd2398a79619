"""``fluiddesk outside``: samples and labels that no plan asked for."""

from typing import TYPE_CHECKING, Any

from fluiddesk.cli.days import day_of
from fluiddesk.cli.desk import add_database, opened
from fluiddesk.cli.output import Exit, counted, print_json, print_rows, say
from fluiddesk.cli.outside_facts import (
    BOX_COLUMNS,
    FLUID_COLUMNS,
    LABEL_COLUMNS,
    box_rows,
    fluid_rows,
    label_rows,
)

if TYPE_CHECKING:
    from argparse import ArgumentParser, Namespace, _SubParsersAction
    from collections.abc import Callable

_REASONS = ("special", "routine", "resample", "post_change", "storage")
_METHODS = ("unknown", "valve_probe", "vacuum_tube", "drain_stream")
_KINDS = ("drum", "tank", "new_fluid", "check")
_VALUES = ("analyte", "symbol", "printed", "printed_unit", "reference", "unit")


def add_commands(commands: "_SubParsersAction[ArgumentParser]") -> None:
    """Add the command."""
    outside = commands.add_parser(
        "outside", help="samples outside the plan: walk-ups, duplicates, drums, tanks, spare labels"
    )
    parts = outside.add_subparsers(dest="part", metavar="PART", required=True)
    _add_lists(parts)
    _add_box_samples(parts)
    _add_fluids(parts)


def _part(
    parts: "_SubParsersAction[ArgumentParser]",
    name: str,
    run: "Callable[[Namespace], int]",
    *words: str,
    about: str,
) -> "ArgumentParser":
    made: ArgumentParser = parts.add_parser(name, help=about)
    for word in words:
        made.add_argument(word)
    add_database(made)
    made.set_defaults(run=run)
    return made


def _add_lists(parts: "_SubParsersAction[ArgumentParser]") -> None:
    _part(parts, "samples", _samples, about="samples of compartments that no plan asked for")
    _part(parts, "fluids", _fluids, about="samples of drums, tanks and new fluid, and checks")
    labels = _part(parts, "labels", _labels, about="spare labels; with --make, more of them")
    labels.add_argument("--make", type=int, metavar="COUNT", help="make so many blank labels")
    labels.add_argument("--site", help="for --make: whose, where there is more than one site")
    _part(parts, "values", _values, "bottle", about="what was measured of a fluid sample")


def _add_box_samples(parts: "_SubParsersAction[ArgumentParser]") -> None:
    walk_up = _part(
        parts, "walk-up", _walk_up, "bottle", "machine", "compartment",
        about="register a bottle that no plan asked for",
    )  # fmt: skip
    walk_up.add_argument("--on", type=day_of, help="the day it was drawn; today by default")
    walk_up.add_argument("--meter", type=float, help="what the machine's meter showed")
    walk_up.add_argument("--reason", choices=_REASONS, default="special")
    walk_up.add_argument("--method", choices=_METHODS, default="unknown", help="how it was drawn")
    walk_up.add_argument("--site", default="", help="where two sites use one machine number")
    _add_words(walk_up)
    _part(
        parts, "duplicate", _duplicate, "first", "bottle",
        about="register a second bottle of the draw of a first one",
    )  # fmt: skip
    reject = _part(
        parts, "reject", _reject, "bottle", about="note that a laboratory measured nothing"
    )
    reject.add_argument("--laboratory", required=True, help="its code")
    reject.add_argument("--reason", required=True, help="what it wrote")
    reject.add_argument("--report", default="", help="its report's number, if it gave one")
    reject.add_argument("--received", type=day_of, help="the day it got the bottle")
    void = _part(parts, "void", _void, "bottle", about="declare a sample void, with a reason")
    void.add_argument("--reason", required=True, help="why it is void")


def _add_fluids(parts: "_SubParsersAction[ArgumentParser]") -> None:
    fluid = _part(
        parts, "fluid", _fluid, "bottle", "fluid",
        about="register a sample of a drum, a tank, new fluid, or a known fluid as a check",
    )  # fmt: skip
    fluid.add_argument("--kind", choices=_KINDS, required=True)
    fluid.add_argument("--tank", default="", help="the number of a tank of the register")
    fluid.add_argument("--batch", default="", help="the number of a delivery of the register")
    fluid.add_argument("--container", default="", help="in words, which drum or delivery")
    fluid.add_argument("--on", type=day_of, help="the day it was drawn; today by default")
    fluid.add_argument("--site", help="where, if there is more than one site")
    _add_words(fluid)
    reference = _part(
        parts, "reference", _reference, "bottle",
        about="make what was measured of new fluid the reference of the fluid",
    )  # fmt: skip
    reference.add_argument("--from", dest="since", type=day_of, help="first day it holds; today")
    tank = _part(parts, "tank", _tank, "number", "fluid", about="add a tank or drum store")
    tank.add_argument("--litres", type=float, help="how much it holds")
    tank.add_argument("--location", default="")
    tank.add_argument("--site", help="where, if there is more than one site")


def _add_words(part: "ArgumentParser") -> None:
    part.add_argument("--by", default="", help="who drew it")
    part.add_argument("--note", default="")


# --- lists ----------------------------------------------------------------------------------


def _samples(arguments: "Namespace") -> int:
    from fluiddesk.services.outside_plan.overview import outside_facts

    with opened(arguments, is_reading=True) as desk:
        rows = box_rows(outside_facts(desk.place).box_samples)
    print_rows(rows, form=arguments.format, columns=BOX_COLUMNS)
    return Exit.OK


def _fluids(arguments: "Namespace") -> int:
    from fluiddesk.services.outside_plan.fluid_samples import fluid_samples

    with opened(arguments, is_reading=True) as desk:
        rows = fluid_rows(fluid_samples(desk.place))
    print_rows(rows, form=arguments.format, columns=FLUID_COLUMNS)
    return Exit.OK


def _labels(arguments: "Namespace") -> int:
    from fluiddesk.services.outside_plan.labels import issue_spare_labels, spare_labels
    from fluiddesk.services.outside_plan.places import site_named

    is_reading = arguments.make is None
    with opened(arguments, is_reading=is_reading) as desk:
        made: tuple[str, ...] = ()
        if not is_reading:
            made = issue_spare_labels(
                desk.place,
                site_named(desk.place, arguments.site),
                arguments.make,
                moment=desk.clock.moment(),
                today=desk.clock.today(),
            )
            say(f"Made {counted(len(made), 'label')}.")
        held = spare_labels(desk.place)
    wanted = [one for one in held if not made or one.code in set(made)]
    print_rows(label_rows(wanted), form=arguments.format, columns=LABEL_COLUMNS)
    return Exit.OK


def _values(arguments: "Namespace") -> int:
    from fluiddesk.services.outside_plan.overview import fluid_values

    with opened(arguments, is_reading=True) as desk:
        values = fluid_values(desk.place, arguments.bottle)
    rows = [{name: getattr(one, name) for name in _VALUES} for one in values]
    print_rows(rows, form=arguments.format, columns=_VALUES)
    return Exit.OK if rows else Exit.ATTENTION


# --- what is registered -----------------------------------------------------------------------


def _walk_up(arguments: "Namespace") -> int:
    from fluiddesk.domain.samples import DrawMethod, SampleReason
    from fluiddesk.services.compartment_history.read import find_compartment
    from fluiddesk.services.outside_plan.walk_up import WalkUp, register_sample

    with opened(arguments) as desk:
        today = desk.clock.today()
        told = WalkUp(
            bottle_code=arguments.bottle,
            compartment_id=find_compartment(
                desk.place, arguments.machine, arguments.compartment, site=arguments.site
            ),
            taken_on=arguments.on or today,
            meter_value=arguments.meter,
            reason=SampleReason(arguments.reason),
            draw_method=DrawMethod(arguments.method),
            taken_by=arguments.by,
            note=arguments.note,
        )
        made = register_sample(desk.place, told, moment=desk.clock.moment(), today=today)
    for warning in made.warnings:
        say(f"{warning} (warning)")
    for warning in made.warnings:
        say(f"{warning} (warning)")
    return _tell(arguments, bottle=made.bottle_code, registered=made.origin.value)


def _duplicate(arguments: "Namespace") -> int:
    from fluiddesk.services.outside_plan.overview import sample_of_bottle
    from fluiddesk.services.outside_plan.walk_up import register_duplicate

    with opened(arguments) as desk:
        made = register_duplicate(
            desk.place,
            sample_of_bottle(desk.place, arguments.first),
            arguments.bottle,
            moment=desk.clock.moment(),
            today=desk.clock.today(),
        )
    return _tell(arguments, bottle=made.bottle_code, registered="duplicate")


def _void(arguments: "Namespace") -> int:
    from fluiddesk.domain.identity import normal_bottle_code
    from fluiddesk.services.outside_plan.voided import void_sample

    with opened(arguments) as desk:
        why, moment = arguments.reason, desk.clock.moment()
        void_sample(desk.place, arguments.bottle, why=why, moment=moment)
    return _tell(arguments, bottle=normal_bottle_code(arguments.bottle), registered="void")


def _reject(arguments: "Namespace") -> int:
    from fluiddesk.domain.identity import normal_bottle_code
    from fluiddesk.services.outside_plan.rejected import Rejection, reject_sample

    told = Rejection(
        bottle_code=arguments.bottle,
        laboratory=arguments.laboratory,
        report_number=arguments.report,
        reason=arguments.reason,
        received_on=arguments.received,
    )
    with opened(arguments) as desk:
        reject_sample(desk.place, told, moment=desk.clock.moment(), today=desk.clock.today())
    return _tell(arguments, bottle=normal_bottle_code(arguments.bottle), registered="rejected")


def _fluid(arguments: "Namespace") -> int:
    from fluiddesk.domain.identity import normal_bottle_code
    from fluiddesk.services.outside_plan.fluid_samples import (
        FluidSampleKind,
        NewFluidSample,
        register_fluid_sample,
    )
    from fluiddesk.services.outside_plan.places import site_named, store_named

    with opened(arguments) as desk:
        today = desk.clock.today()
        site = site_named(desk.place, arguments.site)
        tank, batch = store_named(
            desk.place, site, fluid=arguments.fluid, tank=arguments.tank, batch=arguments.batch
        )
        named = (arguments.tank, arguments.batch)
        told = NewFluidSample(
            site_id=site,
            kind=FluidSampleKind(arguments.kind),
            fluid_code=arguments.fluid,
            bottle_code=arguments.bottle,
            taken_on=arguments.on or today,
            batch_id=batch,
            tank_id=tank,
            container=arguments.container or ", ".join(filter(None, named)),
            taken_by=arguments.by,
            note=arguments.note,
        )
        register_fluid_sample(desk.place, told, moment=desk.clock.moment(), today=today)
    return _tell(arguments, bottle=normal_bottle_code(arguments.bottle), registered=arguments.kind)


def _reference(arguments: "Namespace") -> int:
    from fluiddesk.domain.identity import normal_bottle_code
    from fluiddesk.services.outside_plan.fluid_samples import take_as_reference

    with opened(arguments) as desk:
        number, _ = take_as_reference(
            desk.place,
            arguments.bottle,
            valid_from=arguments.since or desk.clock.today(),
            moment=desk.clock.moment(),
        )
    code = normal_bottle_code(arguments.bottle)
    return _tell(arguments, bottle=code, registered=f"reference {number}")


def _tank(arguments: "Namespace") -> int:
    from fluiddesk.services.outside_plan.places import site_named
    from fluiddesk.services.register.facts import TankFacts
    from fluiddesk.services.register.fluids import save_tank

    with opened(arguments) as desk:
        facts = TankFacts(
            site=site_named(desk.place, arguments.site),
            code=arguments.number,
            fluid=arguments.fluid,
            capacity_l=arguments.litres,
            location=arguments.location,
        )
        save_tank(desk.place, facts, today=desk.clock.today(), moment=desk.clock.moment())
    return _tell(arguments, tank=arguments.number.strip(), registered="tank")


def _tell(arguments: "Namespace", **told: Any) -> int:
    if arguments.format == "json":
        print_json(told)
    elif arguments.format == "csv":
        print_rows([told], form="csv", columns=tuple(told))
    else:
        what, name = next(iter(told.items()))
        words = str(told["registered"]).replace("_", " ")
        print(f"{what.capitalize()} {name}: {words}.")
    return Exit.OK
