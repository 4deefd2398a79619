"""The freeze point of a coolant and the glycol share behind it."""

from typing import Final

from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.fluids.coolant import (
    Basis,
    Glycol,
    concentration_cautions,
    freeze_point,
    glycol_fraction,
    handbook_freeze_point,
    pints_per_us_gallon,
    refractometer_fraction,
)
from fluiddesk.services.reckoner.facts import Answer, Field, Reckoning, Status, Typed, Value
from fluiddesk.services.reckoner.typed import TypedError, TypedFields, told

_PURE: Final = (
    "Curves are for pure glycol in water; commercial antifreeze needs slightly more. The table of "
    "the fluid's supplier and the machine's manual come first."
)
_FIELDS: Final = (
    Field(
        name="share",
        label="Glycol in the coolant",
        unit="%",
        example="50",
        is_needed=False,
        at_least=0.0,
        at_most=100.0,
    ),
    Field(name="glycol", label="Which glycol", example="ethylene", choices=tuple(Glycol)),
    Field(name="basis", label="Share by", example="volume", choices=tuple(Basis)),
    Field(name="point", label="Or the freeze point measured", unit="C", is_needed=False),
)
_SOURCES: Final = {
    Basis.MASS: "Melinder, Properties of secondary working fluids, as fitted curves, 0 to 60 %",
    Basis.VOLUME: "ASHRAE Handbook, Fundamentals, 2001, as fitted curves, 10 to 60 %; below 10 % a "
    "straight line to the 0 °C of water is ours",
}


def _work(given: Typed) -> Answer:
    typed = TypedFields(_FIELDS, given)
    if not typed.has("share") and not typed.has("point"):
        typed.refuse_missing("share", "point")
    if typed.has("share") and typed.has("point"):
        raise TypedError("Both a share and a freeze point were given. Leave one of them empty.")
    glycol, basis = Glycol(typed.choice("glycol")), Basis(typed.choice("basis"))
    share, point = typed.maybe("share"), typed.maybe("point")
    cautions = list(typed.cautions)
    if share is not None:
        values = _from_share(share, glycol, basis)
    else:
        values = _from_point(float(point or 0.0), glycol, basis)
        share = 100.0 * glycol_fraction(float(point or 0.0), glycol=glycol, basis=basis)
    if basis is Basis.VOLUME:
        cautions += [_sentence(text) for text in concentration_cautions(share / 100.0)]
    first = values[0]
    return Answer(
        headline=first.with_unit,
        sentence=f"{glycol.capitalize()} glycol, {told(share, 3)} % by {basis}: "
        f"{first.label.lower()} {first.with_unit}.",
        values=values,
        steps=(
            *typed.steps,
            f"Read from the curve of {glycol} glycol by {basis}, one value a percent, straight "
            "lines between",
        ),
        method=f"freezing curve of {glycol} glycol in water by {basis}",
        source=_SOURCES[basis],
        status=Status.PUBLISHED,
        cautions=(*cautions, _PURE),
    )


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}."


def _degrees(name: str, label: str, celsius: float) -> Value:
    number = round(celsius, 1) + 0.0
    return Value(name=name, label=label, number=number, text=f"{number:.1f}", unit="°C")


def _percent(name: str, label: str, fraction: float) -> Value:
    number = round(100.0 * fraction, 1)
    return Value(name=name, label=label, number=number, text=f"{number:.1f}", unit="%")


def _from_share(share: float, glycol: Glycol, basis: Basis) -> tuple[Value, ...]:
    fraction = share / 100.0
    values = [
        _degrees("freeze_point", "Freeze point", freeze_point(fraction, glycol=glycol, basis=basis))
    ]
    if basis is Basis.VOLUME:
        pints = pints_per_us_gallon(fraction)
        values.append(
            Value(
                name="pints",
                label="Antifreeze",
                number=pints,
                text=told(pints, 3),
                unit="pints in a US gallon of coolant",
            )
        )
    if glycol is Glycol.PROPYLENE and basis is Basis.VOLUME:
        try:
            second = handbook_freeze_point(fraction)
        except OperatorError:
            return tuple(values)  # the second table is shorter than the first
        values.append(
            _degrees("handbook", "By a second table (Lange's Handbook, 15th edition)", second)
        )
    return tuple(values)


def _from_point(point: float, glycol: Glycol, basis: Basis) -> tuple[Value, ...]:
    found = refractometer_fraction(point, glycol=glycol, basis=basis)
    return (
        _percent("share", f"Glycol by {basis}", found.likely),
        _percent("share_low", "At least, by a refractometer good to 1 °F", found.low),
        _percent("share_high", "At most, by a refractometer good to 1 °F", found.high),
    )


FREEZE: Final = Reckoning(
    name="freeze",
    title="Freeze point of a coolant",
    about="The freeze point of a glycol share in water, or the share behind a freeze point.",
    fields=_FIELDS,
    in_order=("share", "glycol", "basis"),
    work=_work,
)
