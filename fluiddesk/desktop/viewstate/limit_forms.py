"""The forms of the Rules page, and what is made of what they say."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import Final, Literal

from fluiddesk.desktop.viewstate.limit_calls import KnownBox
from fluiddesk.desktop.viewstate.limit_writing import OWN_DECISION
from fluiddesk.desktop.viewstate.record_form import FieldKind, FormField, RecordForm, Values
from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.limits.interval_rule import USUAL_WINDOW_SHARE, IntervalRule
from fluiddesk.domain.limits.limit_set import Limit, LimitKind, LimitSet, Scope, check_limit
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.limit_rules.reach import Reach

_KINDS: Final = tuple(
    (kind.value, kind.value.replace("_per_100h", " per 100 h").replace("_", " "))
    for kind in LimitKind
)
_ANY: Final = ("", "any")
_DAY_RULE: Final = (
    "Limits hold for samples drawn from their first day on, and a verdict is as of its sample's "
    "day: older verdicts stand, and stay readable with the set they were made by."
)


def draft_form(number: int, name: str) -> RecordForm:
    """Asks for the name of a draft that is copied from a set."""
    return RecordForm(
        key="draft",
        title="Make a draft",
        about=(
            f'A copy of limit set {number} "{name}" to be edited. The set in force goes on '
            "judging until the draft is put in force."
        ),
        save_label="Make the draft",
        is_new=True,
        fields=(
            FormField(key="name", label="Name", is_needed=True, value=f"{name}, revised"),
            FormField(key="note", label="Note", kind=FieldKind.LONG),
        ),
    )


def off_form(title: str) -> RecordForm:
    """Asks why a limit is switched off, and until when."""
    return RecordForm(
        key="off",
        title="Switch a limit off",
        about=f"{title}. Nothing is judged by it in its scope until the end date.",
        save_label="Switch it off",
        is_new=True,
        fields=(
            FormField(key="reason", label="Reason", kind=FieldKind.LONG, is_needed=True),
            FormField(key="until", label="Until", kind=FieldKind.DAY, is_needed=True),
        ),
    )


def force_form(
    *, name: str, who: str, today: date, changed: int, reaches: Sequence[Reach] = ()
) -> RecordForm:
    """Asks from which day a draft is to hold, and why; the person at the desk answers for it.

    Args:
        name: what the draft is called.
        who: the person at the desk.
        today: the day proposed.
        changed: how many rows differ from the set it was made from.
        reaches: how many samples were drawn since some days.
    """
    rows = "1 row" if changed == 1 else f"{changed} rows"
    return RecordForm(
        key="force",
        title="Put in force",
        about=(
            f'"{name}" with {rows} changed takes the place of the set in force. From then on it '
            f"is not edited any more. {_DAY_RULE} In force from today, it moves nobody until new "
            f"samples come.{_reach_words(reaches)}"
        ),
        save_label="Put in force",
        is_new=True,
        fields=(
            FormField(key="who", label="Decided by", value=who, is_fixed=True),
            FormField(
                key="valid_from",
                label="In force from",
                kind=FieldKind.DAY,
                is_needed=True,
                value=today.isoformat(),
                note="samples drawn before that day keep their verdicts; an earlier day judges "
                "those drawn since anew",
            ),
            FormField(key="note", label="What and why", kind=FieldKind.LONG, is_needed=True),
        ),
    )


def earlier_form(held: LimitSet, *, who: str, reaches: Sequence[Reach] = ()) -> RecordForm:
    """Asks from which earlier day the set in force is to hold, and why.

    Args:
        held: the set in force.
        who: the person at the desk.
        reaches: how many samples were drawn since some days.
    """
    return RecordForm(
        key="earlier",
        title="Hold from an earlier day",
        about=(
            f'"{held.name}" holds from {held.valid_from} on. {_DAY_RULE} A copy of the set with a '
            "number of its own takes force from the earlier day; samples drawn since then are "
            f"judged anew by it.{_reach_words(reaches)}"
        ),
        save_label="Judge the samples since then anew",
        is_new=True,
        fields=(
            FormField(key="who", label="Decided by", value=who, is_fixed=True),
            FormField(
                key="valid_from",
                label="In force from",
                kind=FieldKind.DAY,
                is_needed=True,
                note=f"before {held.valid_from}",
            ),
            FormField(key="note", label="Why", kind=FieldKind.LONG, is_needed=True),
        ),
    )


def _reach_words(reaches: Sequence[Reach]) -> str:
    told = "; ".join(one.words for one in reaches)
    return f" Drawn {told}." if told else ""


def row_form(
    like: Limit | None, *, scope: Scope, catalogue: Catalogue, boxes: Sequence[KnownBox]
) -> RecordForm:
    """Asks for a new limit, filled in like the one that is chosen.

    Args:
        like: the limit that is chosen on the page.
        scope: the scope that is chosen on the page.
        catalogue: the words for analytes and kinds.
        boxes: the boxes of the fleet.
    """
    bounds = (None, None, None) if like is None else like.bounds()
    texts = ["" if bound is None else f"{bound:g}" for bound in bounds]
    return RecordForm(
        key="row",
        title="Add a row",
        about="A row for fewer boxes overrides one for more: a single box, a model, a kind.",
        save_label="Add the row",
        is_new=True,
        fields=(
            FormField(
                key="analyte",
                label="Analyte",
                kind=FieldKind.CHOICE,
                is_needed=True,
                value="" if like is None else like.analyte,
                choices=tuple((one.code, one.name) for one in catalogue.analytes.values()),
            ),
            FormField(
                key="kind",
                label="Looks at",
                kind=FieldKind.CHOICE,
                is_needed=True,
                value=LimitKind.LEVEL.value if like is None else like.kind.value,
                choices=_KINDS,
            ),
            FormField(
                key="direction",
                label="Worse",
                kind=FieldKind.CHOICE,
                is_needed=True,
                value="up" if like is None else like.direction,
                choices=(("up", "up"), ("down", "down")),
            ),
            *_scope_fields(scope if like is None else like.scope, catalogue, boxes),
            *(
                FormField(key=key, label=key.capitalize(), kind=FieldKind.NUMBER, value=text)
                for key, text in zip(("watch", "act", "urgent"), texts, strict=True)
            ),
            FormField(key="source", label="Source", is_needed=True, value=OWN_DECISION),
            FormField(key="note", label="Note", kind=FieldKind.LONG),
        ),
    )


def interval_form(*, scope: Scope, catalogue: Catalogue, boxes: Sequence[KnownBox]) -> RecordForm:
    """Asks for a new interval rule."""
    return RecordForm(
        key="interval",
        title="Add an interval",
        about=(
            "Of hours and days, whichever runs out first counts. A rule for fewer boxes overrides "
            "one for more; where none holds, the box's own interval in the register does."
        ),
        save_label="Add the interval",
        is_new=True,
        fields=(
            *_scope_fields(scope, catalogue, boxes),
            FormField(key="hours", label="Hours", kind=FieldKind.NUMBER, unit="h", above=0),
            FormField(key="days", label="Days", kind=FieldKind.WHOLE, unit="d", least=1),
            FormField(
                key="window",
                label="Window",
                kind=FieldKind.NUMBER,
                is_needed=True,
                unit="% of the interval, before and after",
                value=f"{100 * USUAL_WINDOW_SHARE:g}",
                above=0,
                most=50,
            ),
            FormField(
                key="convention",
                label="Counted",
                kind=FieldKind.CHOICE,
                is_needed=True,
                value="rolling",
                choices=(("rolling", "from the last sample"), ("grid", "from the planned point")),
            ),
            FormField(key="source", label="Source", is_needed=True, value=OWN_DECISION),
            FormField(key="note", label="Note", kind=FieldKind.LONG),
        ),
    )


def _scope_fields(
    scope: Scope, catalogue: Catalogue, boxes: Sequence[KnownBox]
) -> tuple[FormField, ...]:
    models = sorted({one.model for one in boxes if one.model} | {scope.model} - {""})
    kinds = catalogue.compartment_kinds.values()
    machines = catalogue.machine_kinds.values()
    return (
        FormField(
            key="compartment_kind",
            label="Compartment kind",
            kind=FieldKind.CHOICE,
            value=scope.compartment_kind,
            choices=(_ANY, *((one.code, one.name) for one in kinds)),
        ),
        FormField(
            key="machine_kind",
            label="Machine kind",
            kind=FieldKind.CHOICE,
            value=scope.machine_kind,
            choices=(_ANY, *((one.code, one.name) for one in machines)),
        ),
        FormField(
            key="model",
            label="Model",
            kind=FieldKind.CHOICE,
            value=scope.model,
            choices=(_ANY, *((one, one) for one in models)),
        ),
        FormField(
            key="box",
            label="Single box",
            value=_box_text(scope.compartment, boxes),
            note="such as EX-105, Engine",
        ),
    )


def _box_text(compartment: str, boxes: Sequence[KnownBox]) -> str:
    return next((one.title for one in boxes if one.compartment.hex() == compartment), "")


def find_box(text: str, boxes: Sequence[KnownBox]) -> KnownBox:
    """The box of a title.

    Raises:
        OperatorError: when there is none, with boxes of the same machine where it is known.
    """
    wanted = " ".join(text.casefold().split())
    found = next((one for one in boxes if one.title.casefold() == wanted), None)
    if found is not None:
        return found
    machine = wanted.partition(",")[0].strip()
    own = [one.name for one in boxes if one.machine.casefold() == machine]
    if own:
        raise OperatorError(f'"{text}" is no box of this fleet. It has {"; ".join(own)}.')
    raise OperatorError(
        f'"{text}" is no box of this fleet. Write the machine\'s number, a comma and the box.'
    )


def scope_of(values: Values, boxes: Sequence[KnownBox], *, fluid_class: str = "") -> Scope:
    """The scope that a form says.

    Raises:
        OperatorError: when the single box is not known, or is not of the kinds that were chosen.
    """
    scope = Scope(
        machine_kind=str(values["machine_kind"] or ""),
        model=str(values["model"] or ""),
        compartment_kind=str(values["compartment_kind"] or ""),
        fluid_class=fluid_class,
    )
    text = str(values["box"] or "").strip()
    if not text:
        return scope
    box = find_box(text, boxes)
    for chosen, own, word in (
        (scope.compartment_kind, box.kind, "compartment kind"),
        (scope.machine_kind, box.machine_kind, "machine kind"),
        (scope.model, box.model, "model"),
    ):
        if chosen not in ("", own):
            raise OperatorError(
                f'"{text}" is not of the {word} that is chosen. Choose "any", or another box.'
            )
    return replace(scope, compartment=box.compartment.hex())


def limit_of(values: Values, *, like: Limit | None, boxes: Sequence[KnownBox], who: str) -> Limit:
    """The limit that the form of a new row says.

    Raises:
        OperatorError: when its bounds are out of order or its box is not known.
    """
    is_same = like is not None and like.analyte == values["analyte"]
    fluid_class = like.scope.fluid_class if like is not None and is_same else ""
    direction: Literal["up", "down"] = "down" if values["direction"] == "down" else "up"
    limit = Limit(
        scope=scope_of(values, boxes, fluid_class=fluid_class),
        analyte=str(values["analyte"]),
        kind=LimitKind(str(values["kind"])),
        direction=direction,
        watch=_number(values, "watch"),
        act=_number(values, "act"),
        urgent=_number(values, "urgent"),
        source=str(values["source"]),
        set_by=who,
        note=str(values["note"] or ""),
        boundary="at" if like is None else like.boundary,
        companion=like.companion if like is not None and is_same else "",
        least_change=like.least_change if like is not None and is_same else None,
    )
    check_limit(limit)
    return limit


def interval_of(values: Values, *, boxes: Sequence[KnownBox], who: str) -> IntervalRule:
    """The interval rule that the form of a new one says.

    Raises:
        OperatorError: when neither hours nor days are given, or its box is not known.
    """
    hours, days = _number(values, "hours"), _number(values, "days")
    if hours is None and days is None:
        raise OperatorError("Neither hours nor days are given. Give at least one.")
    return IntervalRule(
        scope=scope_of(values, boxes),
        interval_hours=hours,
        interval_days=None if days is None else int(days),
        source=str(values["source"]),
        set_by=who,
        window_share=(_number(values, "window") or 0.0) / 100,
        convention="grid" if values["convention"] == "grid" else "rolling",
        note=str(values["note"] or ""),
    )


def _number(values: Values, key: str) -> float | None:
    value = values[key]
    return float(value) if isinstance(value, int | float) else None
