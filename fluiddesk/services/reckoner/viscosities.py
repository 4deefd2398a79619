"""Viscosity index, viscosity at another temperature, blends and grades."""

from typing import Final

from fluiddesk.domain.fluids.viscosity import (
    blend,
    fuel_fraction_from_viscosity,
    iso_grade,
    sae_engine_grades,
    sae_engine_limits,
    sae_gear_grade,
    viscosity_at,
    viscosity_index,
)
from fluiddesk.services.reckoner.facts import Answer, Field, Reckoning, Status, Typed, Value
from fluiddesk.services.reckoner.typed import TypedError, TypedFields, told

_UNIT: Final = "mm2/s"
_MEMORY_GRADES: Final = (2200, 3200)


def _viscosity(name: str, label: str, example: str, *, is_needed: bool = True) -> Field:
    return Field(
        name=name, label=label, unit=_UNIT, example=example, is_needed=is_needed, above=0.0
    )


def _temperature(name: str, label: str, example: str) -> Field:
    return Field(name=name, label=label, unit="C", example=example)


_INDEX_FIELDS: Final = (
    _viscosity("kv40", "Viscosity at 40 °C", "73.30"),
    _viscosity("kv100", "Viscosity at 100 °C", "8.86"),
)


def _index(given: Typed) -> Answer:
    typed = TypedFields(_INDEX_FIELDS, given)
    cold, hot = typed.number("kv40"), typed.number("kv100")
    index = viscosity_index(cold, hot)
    exact = viscosity_index(cold, hot, is_rounded=False)
    return Answer(
        headline=f"Viscosity index {index:.0f}",
        sentence=f"{told(cold)} mm2/s at 40 °C and {told(hot)} at 100 °C make {index:.0f}.",
        values=(
            Value(name="index", label="Viscosity index", number=int(index), text=f"{index:.0f}"),
        ),
        steps=(*typed.steps, f"Before rounding to a whole number: {told(exact, 5)}"),
        method="ASTM D2270 (ISO 2909): procedure A up to index 100, procedure B above, by the "
        "table from 2 to 70 mm2/s at 100 °C and by the formulas above",
        source="ASTM D2270, wording of 1993, clauses 5 and 6 and Table 1",
        status=Status.PUBLISHED,
        cautions=tuple(typed.cautions),
    )


VI: Final = Reckoning(
    name="vi",
    title="Viscosity index",
    about="How little an oil thins as it warms, from its viscosities at 40 and 100 °C.",
    fields=_INDEX_FIELDS,
    in_order=("kv40", "kv100"),
    work=_index,
)

_AT_FIELDS: Final = (
    _temperature("temperature", "Temperature wanted", "80"),
    _temperature("temperature_1", "First known temperature", "40"),
    _viscosity("viscosity_1", "Viscosity there", "32"),
    _temperature("temperature_2", "Second known temperature", "100"),
    _viscosity("viscosity_2", "Viscosity there", "5.4"),
)


def _at(given: Typed) -> Answer:
    typed = TypedFields(_AT_FIELDS, given)
    wanted = typed.number("temperature")
    known = [
        (typed.number(f"temperature_{number}"), typed.number(f"viscosity_{number}"))
        for number in (1, 2)
    ]
    found = viscosity_at(wanted, known)
    lowest, highest = sorted(temperature for temperature, _ in known)
    cautions = list(typed.cautions)
    if not lowest <= wanted <= highest:
        cautions.append(
            "Beyond the two known temperatures: the further away, the less the figure is worth; "
            "near or below the pour point it means nothing."
        )
    return Answer(
        headline=f"{told(found)} mm2/s at {told(wanted)} °C",
        sentence=f"At {told(wanted)} °C the fluid has about {told(found)} mm2/s.",
        values=(
            Value(
                name="viscosity",
                label=f"Viscosity at {told(wanted)} °C",
                number=found,
                text=told(found),
                unit=_UNIT,
            ),
        ),
        steps=(
            *typed.steps,
            "A straight line of log log Z over log T in kelvin through "
            + " and ".join(f"{told(mm2_s)} mm2/s at {told(at)} °C" for at, mm2_s in known),
        ),
        method="ASTM D341-09, the full equation with its terms for thin liquids",
        source="ASTM D341-09; its lower end, 0.21 mm2/s, is from memory, unconfirmed",
        status=Status.PUBLISHED,
        cautions=tuple(cautions),
    )


VISCOSITY: Final = Reckoning(
    name="viscosity",
    title="Viscosity at a temperature",
    about="The viscosity at any temperature, from those at two others.",
    fields=_AT_FIELDS,
    in_order=("temperature", "temperature_1", "viscosity_1", "temperature_2", "viscosity_2"),
    work=_at,
)


def _share(number: int, example: str) -> Field:
    return Field(
        name=f"share_{number}",
        label=f"Share of fluid {number}, by volume",
        unit="%",
        example=example,
        is_needed=False,
        at_least=0.0,
        at_most=100.0,
    )


_BLEND_FIELDS: Final = (
    _share(1, "97"),
    _viscosity("viscosity_1", "Viscosity of fluid 1", "110"),
    _share(2, "3"),
    _viscosity("viscosity_2", "Viscosity of fluid 2", "2.6"),
    _share(3, ""),
    _viscosity("viscosity_3", "Viscosity of fluid 3", "", is_needed=False),
    _viscosity("observed", "Or the viscosity observed, without shares", "", is_needed=False),
)
_BLEND_METHOD: Final = (
    "double logarithms of ASTM D341 added by share of volume, as ASTM D7152 does; all viscosities "
    "at one temperature"
)
_BLEND_SOURCE: Final = "formula of ASTM D7152 from memory, unconfirmed"
_BLEND_CAUTION: Final = (
    "Every viscosity must be at the same temperature. Not for strongly non-Newtonian fluids or "
    "viscosity improvers."
)
_WHOLE: Final = 100.0
_NEARLY_WHOLE: Final = 1e-4


def _blend(given: Typed) -> Answer:
    typed = TypedFields(_BLEND_FIELDS, given)
    if typed.has("observed"):
        return _unblend(typed)
    parts = [1, 2, 3] if typed.has("viscosity_3") or typed.has("share_3") else [1, 2]
    if 3 in parts and not typed.has("viscosity_3"):  # noqa: PLR2004  # the third fluid
        typed.refuse_missing("viscosity_3")
    viscosities = [typed.number(f"viscosity_{part}") for part in parts]
    shares = _shares(typed, parts)
    found = blend([share / _WHOLE for share in shares], viscosities)
    mixed = " + ".join(
        f"{told(share)} % of {told(mm2_s)}"
        for share, mm2_s in zip(shares, viscosities, strict=True)
    )
    return Answer(
        headline=f"{told(found)} mm2/s",
        sentence=f"{mixed} mm2/s make about {told(found)} mm2/s.",
        values=(
            Value(
                name="viscosity",
                label="Viscosity of the blend",
                number=found,
                text=told(found),
                unit=_UNIT,
            ),
        ),
        steps=(*typed.steps, f"Double logarithms added by share: {mixed} mm2/s"),
        method=_BLEND_METHOD,
        source=_BLEND_SOURCE,
        status=Status.MEMORY,
        cautions=(*typed.cautions, _BLEND_CAUTION),
    )


def _shares(typed: TypedFields, parts: list[int]) -> list[float]:
    """The shares in percent; one that was left out is the rest."""
    names = [f"share_{part}" for part in parts]
    left_out = [name for name in names if not typed.has(name)]
    if len(left_out) > 1:
        typed.refuse_missing(*left_out)
    shares = {name: typed.number(name) for name in names if name not in left_out}
    total = sum(shares.values())
    if left_out:
        rest = _WHOLE - total
        if rest < 0:
            raise TypedError(
                f"The shares add up to {told(total, 6)} %, more than 100 %. Correct a share."
            )
        shares[left_out[0]] = rest
        typed.steps.append(f"Share of fluid {left_out[0][-1]}: the rest, {told(rest)} %")
    elif abs(total - _WHOLE) > _NEARLY_WHOLE:
        raise TypedError(
            f"The shares add up to {told(total, 6)} %, not to 100 %. Correct a share, or leave "
            "one empty: it is then the rest."
        )
    return [shares[name] for name in names]


def _unblend(typed: TypedFields) -> Answer:
    extra = [name for name in ("share_1", "share_2", "share_3", "viscosity_3") if typed.has(name)]
    if extra:
        raise TypedError(
            "An observed viscosity tells the share of two fluids, so that no share and no third "
            "fluid can be given with it. Leave those fields empty, or the observed viscosity."
        )
    first, second = typed.number("viscosity_1"), typed.number("viscosity_2")
    thick, thin = max(first, second), min(first, second)
    seen = typed.number("observed")
    share = _WHOLE * fuel_fraction_from_viscosity(seen, oil=thick, fuel=thin)
    return Answer(
        headline=f"{told(share, 3)} % of the thinner fluid",
        sentence=f"{told(share, 3)} % of {told(thin)} mm2/s alone would thin {told(thick)} mm2/s "
        f"to {told(seen)} mm2/s.",
        values=(
            Value(
                name="share_of_thinner",
                label="Share of the thinner fluid, by volume",
                number=share,
                text=told(share, 3),
                unit="%",
            ),
        ),
        steps=(*typed.steps, "Share = (W thick - W observed) / (W thick - W thin), W = log log Z"),
        method=_BLEND_METHOD,
        source=_BLEND_SOURCE,
        status=Status.MEMORY,
        cautions=(
            *typed.cautions,
            _BLEND_CAUTION,
            "An estimate, not a finding: shear and a thinner oil filled in look the same; soot "
            "and oxidation hide fuel.",
        ),
    )


BLEND: Final = Reckoning(
    name="blend",
    title="Blend of fluids",
    about="The viscosity of a blend, or the share of a thinner fluid that explains a reading.",
    fields=_BLEND_FIELDS,
    in_order=tuple(field.name for field in _BLEND_FIELDS[:6]),
    work=_blend,
)

_GRADE_FIELDS: Final = (
    _viscosity("kv40", "Viscosity at 40 °C", "68", is_needed=False),
    _viscosity("kv100", "Viscosity at 100 °C", "14.5", is_needed=False),
    Field(
        name="grade",
        label="Engine oil grade it should be",
        example="15W-40",
        is_needed=False,
    ),
)


def _grade(given: Typed) -> Answer:
    typed = TypedFields(_GRADE_FIELDS, given)
    cold, hot = typed.maybe("kv40"), typed.maybe("kv100")
    if cold is None and hot is None:
        typed.refuse_missing("kv40", "kv100")
    if typed.has("grade") and hot is None:
        typed.refuse_missing("kv100")
    values: list[Value] = []
    cautions = list(typed.cautions)
    if cold is not None:
        values.append(_iso(cold, cautions))
    if hot is not None:
        values += _sae(hot, cautions)
    if hot is not None and typed.has("grade"):
        values.append(_as_it_should_be(hot, typed.text("grade")))
    seen = [
        f"{told(mm2_s)} mm2/s at {at} °C"
        for at, mm2_s in ((40, cold), (100, hot))
        if mm2_s is not None
    ]
    return Answer(
        headline=", ".join(value.text for value in values),
        sentence=f"Grades of {' and '.join(seen)}.",
        values=tuple(values),
        steps=tuple(typed.steps),
        method="viscosity looked up between the ends of each grade: ISO grades include both ends, "
        "SAE grades the lower one",
        source="ISO 3448 (40 °C); SAE J300, January 2015, and SAE J306, February 2019 (100 °C); "
        "ISO VG 2200 and 3200 from memory, unconfirmed",
        status=Status.PUBLISHED,
        cautions=tuple(cautions),
    )


def _iso(cold: float, cautions: list[str]) -> Value:
    found = iso_grade(cold)
    if found is None:
        cautions.append("ISO grades do not touch: a reading between two of them has no grade.")
    elif found in _MEMORY_GRADES:
        cautions.append(f"The ends of ISO VG {found} are from memory, unconfirmed.")
    text = "no ISO grade" if found is None else f"ISO VG {found}"
    return Value(name="iso", label="Industrial oil (ISO 3448)", number=found, text=text)


def _sae(hot: float, cautions: list[str]) -> list[Value]:
    engine, gear = sae_engine_grades(hot), sae_gear_grade(hot)
    if len(engine) > 1:
        cautions.append(
            "Engine grades 8 to 20 overlap at 100 °C: the viscosity at high shear decides."
        )
    cautions.append("Grades with W have cold tests besides: no reading at 100 °C names them.")
    fits = " or ".join(engine)
    return [
        Value(
            name="sae_engine",
            label="Engine oil (SAE J300)",
            number=fits or None,
            text=f"SAE {fits}" if engine else "no SAE engine grade",
        ),
        Value(
            name="sae_gear",
            label="Gear oil (SAE J306)",
            number=gear,
            text=f"SAE gear {gear}" if gear else "no SAE gear grade",
        ),
    ]


def _as_it_should_be(hot: float, grade: str) -> Value:
    limits = sae_engine_limits(grade)
    if hot < limits.at_least:
        word = f"too thin for {grade}"
    elif hot >= limits.below:
        word = f"too thick for {grade}"
    else:
        word = f"fits {grade}"
    span = f"{told(limits.at_least)} to below {told(limits.below)} mm2/s at 100 °C"
    return Value(name="fits", label=f"{grade} asks {span}", number=word, text=word)


GRADE: Final = Reckoning(
    name="grade",
    title="Viscosity grade",
    about="The ISO and SAE grades that a viscosity fits.",
    fields=_GRADE_FIELDS,
    in_order=("kv40", "kv100", "grade"),
    work=_grade,
)
