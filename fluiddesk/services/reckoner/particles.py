"""Particle counts as a contamination code, and a code as counts."""

from typing import Final

from fluiddesk.domain.fluids.particle_code import (
    ABOVE_TABLE,
    ContaminationCode,
    CountRange,
    as4059_classes,
    code_from_text,
    code_steps_over,
    contamination_code,
    counts_for_code,
)
from fluiddesk.services.reckoner.facts import Answer, Field, Reckoning, Status, Typed, Value
from fluiddesk.services.reckoner.typed import TypedError, TypedFields, told

_SIZES: Final = ("4", "6", "14")
_METHOD: Final = (
    "ISO 4406: each count looked up in the table of scale numbers 0 to 28, which is no logarithm; "
    "an upper limit belongs to the lower number. AS4059 revision E beside it, class by class"
)
_SOURCE: Final = (
    "table of the 1999 edition of ISO 4406, with which clause 4.1 of the 2021 edition agrees; "
    "SAE AS4059 revision E, cumulative counts"
)
_COUNTS: Final = ("count_4um", "count_6um", "count_14um")


def _count(size: str, example: str) -> Field:
    return Field(
        name=f"count_{size}um",
        label=f"Particles of {size} µm(c) and more",
        unit="per mL",
        example=example,
        is_needed=False,
        at_least=0.0,
    )


_FIELDS: Final = (
    _count("4", "3000"),
    _count("6", "500"),
    _count("14", "7"),
    Field(
        name="volume",
        label="Counted in, else per mL",
        unit="mL",
        example="",
        is_needed=False,
        above=0.0,
    ),
    Field(name="target", label="Target code", example="18/16/13", is_needed=False),
    Field(name="code", label="Or a code instead of counts", is_needed=False),
)


def _work(given: Typed) -> Answer:
    typed = TypedFields(_FIELDS, given)
    first = given.get(_COUNTS[0], "")
    if "/" in first and first.replace("/", "").replace("-", "").strip().isdigit():
        # A code where the first count is asked for: on the command line the natural thing to type.
        typed = TypedFields(_FIELDS, {**given, _COUNTS[0]: "", "code": first})
    if typed.has("code"):
        if any(typed.has(name) for name in _COUNTS):
            raise TypedError("Both counts and a code were given. Leave one of them empty.")
        code = code_from_text(typed.text("code"))
        return _answer(typed, code, (), f"Code {code} stands for these counts per mL.")
    if not any(typed.has(name) for name in _COUNTS):
        typed.refuse_missing(*_COUNTS)
    volume = typed.maybe("volume")
    if volume is not None and any("/" in given.get(name, "") for name in _COUNTS):
        raise TypedError(
            "A count is given with a unit and a volume as well. Give counts per mL without a "
            "volume, or bare numbers of particles with the volume they were counted in."
        )
    counts = [typed.maybe(name) for name in _COUNTS]
    code = contamination_code(*counts, volume_ml=volume)
    per_ml = tuple(None if count is None else count / (volume or 1.0) for count in counts)
    if volume is not None:
        typed.steps += [
            f"{told(count)} particles of {size} µm(c) and more in {told(volume)} mL = "
            f"{told(share, 6)} per mL"
            for size, count, share in zip(_SIZES, counts, per_ml, strict=True)
            if count is not None and share is not None
        ]
    return _answer(typed, code, per_ml, f"The contamination code is {code}.")


def _answer(
    typed: TypedFields,
    code: ContaminationCode,
    per_ml: tuple[float | None, ...],
    sentence: str,
) -> Answer:
    ranges = counts_for_code(code)
    values = [Value(name="code", label="Contamination code", number=str(code), text=str(code))]
    for size, number, span in zip(_SIZES, code.numbers, ranges, strict=True):
        if number is None or span is None:
            continue
        written = _written(span)
        values.append(
            Value(
                name=f"range_{size}um",
                label=f"{size} µm(c), number {_number(number)}",
                number=written,
                text=written,
                unit="per mL",
            )
        )
    if per_ml:
        classes = _as4059(per_ml)
        values.append(Value(name="as4059", label="AS4059 classes", number=classes, text=classes))
    if typed.has("target"):
        sentence += _against_target(code, typed.text("target"), values)
    return Answer(
        headline=str(code),
        sentence=sentence,
        values=tuple(values),
        steps=tuple(typed.steps),
        method=_METHOD,
        source=_SOURCE,
        status=Status.PUBLISHED,
        cautions=(*typed.cautions, *_cautions(code)),
    )


def _number(number: int) -> str:
    return ">28" if number == ABOVE_TABLE else str(number)


def _written(span: CountRange) -> str:
    if span.up_to == float("inf"):
        return f"more than {span.more_than:.0f}"
    return f"more than {told(span.more_than, 7)}, up to {told(span.up_to, 7)}"


def _as4059(per_ml: tuple[float | None, ...]) -> str:
    counts = [None if count is None else count * 100.0 for count in per_ml]
    return " ".join(as4059_classes(counts))


def _against_target(code: ContaminationCode, target: str, values: list[Value]) -> str:
    steps = code_steps_over(code_from_text(target), code)
    worst = steps.worst
    values.append(
        Value(
            name="steps_over_target",
            label=f"Over target {target}",
            number=worst,
            text=f"{worst:+d} at the worst size" if worst else "met at every size",
        )
    )
    if worst > 0:
        return f" It lies {worst} above the target {target} at the worst size."
    return f" It meets the target {target}."


def _cautions(code: ContaminationCode) -> list[str]:
    found = []
    if any(code.too_few):
        found.append("≥: fewer than 20 particles were counted at that size; the number is a least.")
    if ABOVE_TABLE in code.numbers:
        found.append("The end of the table, 2 500 000 per mL, is from memory, unconfirmed.")
    if code.numbers[0] is None and None not in code.numbers[1:]:
        found.append("Two numbers: by microscope these are for 5 and 15 µm.")
    return found


CODE: Final = Reckoning(
    name="code",
    title="Contamination code",
    about="Particle counts as an ISO 4406 code, or a code as the counts it stands for.",
    fields=_FIELDS,
    in_order=_COUNTS,
    work=_work,
)
