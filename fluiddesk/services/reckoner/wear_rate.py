"""Wear rate of one fill by the mass balance, with its band."""

import re
from typing import Final

import numpy as np

from fluiddesk.domain.wear.equilibrium import (
    equilibrium_ppm,
    half_time_hours,
    is_worth_saying,
    loss_per_hour,
    reads_low_percent,
)
from fluiddesk.domain.wear.fill import Fill, Spread
from fluiddesk.domain.wear.mass_balance import MassBalance
from fluiddesk.domain.wear.rate_band import RateBand, topped_up_balance, topped_up_rate_band
from fluiddesk.domain.wear.top_ups import NO_TOP_UPS, TopUps
from fluiddesk.services.reckoner.facts import Answer, Field, Reckoning, Status, Typed, Value
from fluiddesk.services.reckoner.typed import NUMBER, TypedError, TypedFields, number_in, told

_LEVEL: Final = "mg/kg"
_RATE: Final = "mg/kg per 100 h"


def _level(name: str, label: str, example: str, *, default: str = "") -> Field:
    return Field(
        name=name, label=label, unit=_LEVEL, example=example, default=default, at_least=0.0
    )


def _percent(name: str, label: str, example: str, *, default: str = "") -> Field:
    return Field(
        name=name,
        label=label,
        unit="%",
        example=example,
        default=default,
        at_least=0.0,
        at_most=100.0,
    )


def _spread(name: str, label: str, unit: str, example: str) -> Field:
    return Field(name=name, label=label, unit=unit, example=example, is_needed=False, at_least=0.0)


_FIELDS: Final = (
    _level("end", "Metal at the sample", "32"),
    _level("before", "Metal in the old oil at the change", "45"),
    _percent("residue", "Old oil left by the change", "10"),
    Field(name="hours", label="Hours on the oil", unit="h", example="250", above=0.0),
    Field(name="volume", label="Oil in the box", unit="L", example="250", above=0.0),
    Field(name="density", label="Density", unit="kg/L", example="", default="0.87", above=0.0),
    _level("fresh", "Metal in fresh oil", "1", default="0"),
    Field(
        name="loss",
        label="Oil lost and made up evenly",
        unit="L/h",
        example="0.08",
        default="0",
        at_least=0.0,
    ),
    Field(
        name="top_ups",
        label="Single top-ups: hours on the oil, litres",
        is_needed=False,
        is_long=True,
    ),
    _percent("loss_share", "Metal that leaves with lost oil", "", default="100"),
    Field(
        name="removal",
        label="Removal by filter and settling",
        unit="%/h",
        default="0",
        at_least=0.0,
        at_most=100.0,
    ),
    _spread("sd_level", "Spread of a level (one sd)", _LEVEL, "3"),
    _spread("sd_residue", "Spread of the old oil left (one sd)", "%", "4"),
    _spread("sd_loss", "Spread of the litres lost (one sd)", "%", "20"),
)
_TOP_UP: Final = re.compile(
    rf"(?P<hours>{NUMBER})\s*h?\s*[:, ]\s*(?P<litres>{NUMBER})\s*L?", re.IGNORECASE
)


def _work(given: Typed) -> Answer:
    typed = TypedFields(_FIELDS, given)
    fill = Fill(
        end=typed.number("end"),
        before=typed.number("before"),
        residue_share=typed.number("residue") / 100.0,
        hours=typed.number("hours"),
        volume_l=typed.number("volume"),
        density_kg_l=typed.number("density"),
        fresh=typed.number("fresh"),
        loss_l_per_h=typed.number("loss"),
        loss_share=typed.number("loss_share") / 100.0,
        removal_per_h=typed.number("removal") / 100.0,
    )
    top_ups = _top_ups(typed, fresh=float(fill.fresh))
    found = topped_up_balance(fill, top_ups)
    band = _band(typed, fill, top_ups)
    start = float(fill.residue_share) * float(fill.before)
    start += (1.0 - float(fill.residue_share)) * float(fill.fresh)
    typed.steps += [
        f"Level just after the change: {told(start)} mg/kg",
        f"Without losses and top-ups the oil would show {told(found.without_losses_ppm)} mg/kg",
    ]
    if not len(top_ups):
        typed.steps += _about_rest(found, fill)
    return Answer(
        headline=f"{_three(found.ppm_per_100_h)} {_RATE}",
        sentence=_sentence(found, band),
        values=_values(found, band),
        steps=tuple(typed.steps),
        method="mass balance of a well-mixed box kept full, solved exactly from one top-up to the "
        "next; band of 80 %: spreads added as squares, first order",
        source="common practice, the algebra is our own; Anderson and Driver, Wear 1979, has the "
        "same shape (from memory, unconfirmed)",
        status=Status.PRACTICE,
        cautions=(*typed.cautions, *_cautions(found, band, fill, has_top_ups=bool(len(top_ups)))),
    )


def _top_ups(typed: TypedFields, *, fresh: float) -> TopUps:
    text = typed.text("top_ups")
    parts = [part.strip() for part in re.split(r"[;\n]", text) if part.strip()]
    if not parts:
        return NO_TOP_UPS
    found = []
    for part in parts:
        match = _TOP_UP.fullmatch(part)
        if not match:
            raise TypedError(
                f'Single top-ups: "{part}" is no top-up. Write the hours on the oil and the '
                "litres, several parted by semicolons, such as 60 h 10 L; 120 h 8 L."
            )
        found.append((number_in(match["hours"]), number_in(match["litres"])))
    hours, litres = np.array(found).T
    return TopUps(at_hours=hours, litres=litres, fresh=fresh)


def _band(typed: TypedFields, fill: Fill[float], top_ups: TopUps) -> RateBand[float] | None:
    """The band; none where nobody said how well the figures are known."""
    level, residue = typed.maybe("sd_level"), typed.maybe("sd_residue")
    loss = typed.maybe("sd_loss")
    if level is None and residue is None and loss is None:
        return None
    spread = Spread(
        end=level or 0.0,
        before=level or 0.0,
        residue_share=(residue or 0.0) / 100.0,
        loss_relative=(loss or 0.0) / 100.0,
    )
    return topped_up_rate_band(fill, spread, top_ups)


def _about_rest(found: MassBalance[float], fill: Fill[float]) -> list[str]:
    """Where the level comes to rest in a box that loses oil or filters."""
    loss = _loss(fill)
    if not loss or found.ppm_per_hour < 0:
        return []
    rest = equilibrium_ppm(
        ppm_per_hour=found.ppm_per_hour,
        loss=loss,
        exchange=float(fill.exchange),
        fresh=float(fill.fresh),
    )
    return [
        f"At this rate the level comes to rest at {told(rest, 3)} mg/kg, half of the way in "
        f"{told(half_time_hours(loss), 3)} h"
    ]


def _loss(fill: Fill[float]) -> float:
    return loss_per_hour(
        volume_l=float(fill.volume_l),
        loss_l_per_h=float(fill.loss_l_per_h),
        loss_share=float(fill.loss_share),
        removal_per_h=float(fill.removal_per_h),
    )


def _sentence(found: MassBalance[float], band: RateBand[float] | None) -> str:
    told_band = ""
    if band is not None:
        told_band = f" (80 % band {_three(band.low)} to {_three(band.high)})"
    return (
        f"The box made {_three(found.ppm_per_100_h)} {_RATE}{told_band}: "
        f"{_three(found.mg_per_hour)} mg an hour, {_three(found.grams)} g on this oil."
    )


def _values(found: MassBalance[float], band: RateBand[float] | None) -> tuple[Value, ...]:
    def value(name: str, label: str, number: float, unit: str) -> Value:
        return Value(name=name, label=label, number=number, text=_three(number), unit=unit)

    values = [value("rate", "Wear rate", found.ppm_per_100_h, _RATE)]
    if band is not None:
        values += [
            value("low", "Lower end of the 80 % band", band.low, _RATE),
            value("high", "Upper end of the 80 % band", band.high, _RATE),
        ]
    values += [
        value("mg_per_hour", "Metal made an hour", found.mg_per_hour, "mg/h"),
        value("grams", "Metal made on this oil", found.grams, "g"),
    ]
    return tuple(values)


def _three(number: float) -> str:
    return told(number, 3, is_even=True)


def _cautions(
    found: MassBalance[float],
    band: RateBand[float] | None,
    fill: Fill[float],
    *,
    has_top_ups: bool,
) -> list[str]:
    cautions = []
    if found.ppm_per_hour < 0:
        cautions.append(
            "Negative: the oil shows less than it must have held. Noise of the measurement, or a "
            "change or top-up that nobody recorded."
        )
    elif band is not None and band.low <= 0:
        cautions.append("The band reaches below zero: the rate cannot be told from none.")
    if band is None:
        cautions.append(
            "No band: nothing was said of how well levels, residue and losses are known."
        )
    hours, loss = float(fill.hours), _loss(fill)
    if is_worth_saying(hours=hours, loss=loss):
        low = told(reads_low_percent(hours=hours, loss=loss), 3)
        cautions.append(f"The level reads low: {low} % of the metal made is no longer in the oil.")
    if has_top_ups and fill.loss_l_per_h:
        cautions.append("Litres counted both as even loss and as single top-ups count twice.")
    return cautions


RATE: Final = Reckoning(
    name="rate",
    title="Wear rate of a fill",
    about="What a box made of a metal since its oil change, through losses and top-ups.",
    fields=_FIELDS,
    in_order=("end", "before", "residue", "hours", "volume"),
    work=_work,
)
