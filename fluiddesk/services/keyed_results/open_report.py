"""Opens a bottle for keying: whose it is, what to expect, and the grid of the laboratory's form."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np

from fluiddesk.domain.analytes import Analyte
from fluiddesk.domain.errors import NotFoundError, OperatorError
from fluiddesk.domain.identity import normal_bottle_code
from fluiddesk.domain.samples import AWAITED, OpenBottle, Sample, SampleState, Sign
from fluiddesk.domain.severity import Severity
from fluiddesk.intake.columns import form_columns
from fluiddesk.intake.layouts import LabLayout, Role, layout_named, normal_header
from fluiddesk.intake.values import ValueColumn
from fluiddesk.services.foretelling import Foretold, foretell
from fluiddesk.services.keyed_results.basis import CheckBasis, FormColumn
from fluiddesk.services.keyed_results.facts import (
    GridCell,
    HeadField,
    LayoutChoice,
    OpenReport,
)
from fluiddesk.services.keyed_results.ghosts import expected_of, to_confirm
from fluiddesk.services.keyed_results.second_entry import read_second_entry
from fluiddesk.services.lab_intake.layout_titles import layout_title
from fluiddesk.services.lab_intake.preview import layouts
from fluiddesk.services.reassess.fleet import BoxFacts
from fluiddesk.services.register.desk_lists import ordered_tests
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import Desk, RecordKey, RecordKind

_HEADS: Final = {
    Role.REPORT: HeadField.REPORT_NUMBER,
    Role.ISSUE: HeadField.ISSUE,
    Role.SAMPLED_ON: HeadField.SAMPLED_ON,
    Role.RECEIVED_ON: HeadField.RECEIVED_ON,
    Role.TESTED_ON: HeadField.TESTED_ON,
    Role.ISSUED_ON: HeadField.ISSUED_ON,
    Role.METER: HeadField.METER,
    Role.FLUID_HOURS: HeadField.FLUID_HOURS,
    Role.REMARK: HeadField.REMARK,
}
_MOST_OTHERS: Final = 3_000
_LEAST_PLACES: Final = 3
"""So many printed numbers must agree before their places behind the point count as usual."""


@dataclass(frozen=True, slots=True)
class _Found:
    """What of a bottle is read from the store in one go."""

    bottle: OpenBottle
    sample: Sample
    box: BoxFacts
    layout: LabLayout
    columns: tuple[FormColumn, ...]
    foretold: Foretold
    basis: CheckBasis


def keying_layouts(place: Workplace) -> tuple[LayoutChoice, ...]:
    """The forms a report can be keyed by."""
    with place.store.reading() as desk:
        laboratories = desk.catalogue.laboratories()
    return _choices(_forms(place), laboratories)


def _forms(place: Workplace) -> list[LabLayout]:
    return [one for one in layouts(place) if Role.BOTTLE in one.roles]


def _choices(
    forms: Sequence[LabLayout], laboratories: Mapping[str, str]
) -> tuple[LayoutChoice, ...]:
    return tuple(
        LayoutChoice(
            name=one.name, laboratory=one.laboratory, title=layout_title(one, laboratories)
        )
        for one in forms
    )


def open_report(
    place: Workplace, bottle_code_text: str, *, layout: str = "", today: date
) -> OpenReport:
    """Find the bottle of a code as scanned or typed, and make its form ready.

    Args:
        place: where to look.
        bottle_code_text: the code; spaces, hyphens and case do not matter.
        layout: the form of the report; by default the one of the laboratory that reported the box
            last, else the first there is.
        today: the day.

    Raises:
        BottleCodeError: at once, when the check character does not fit.
        NotFoundError: when nobody registered the bottle.
        OperatorError: when the bottle was never drawn, or holds no sample of a box.
    """
    code = normal_bottle_code(bottle_code_text)
    forms = _forms(place)
    known = {one.name: one for one in forms}
    with place.store.reading() as desk:
        choices = _choices(forms, desk.catalogue.laboratories())
        bottle, sample, box = _bottle(desk, code)
        form = _chosen_layout(desk, sample, known, layout)
        found = _found(desk, place, (bottle, sample, box), form, today)
    return _facts(place, found, choices)


def _bottle(desk: Desk, code: str) -> tuple[OpenBottle, Sample, BoxFacts]:
    bottles = desk.sampling.open_bottles([code])
    if not bottles:
        sample = desk.sampling.by_bottle([code]).get(code)
        if sample is not None:
            state = sample.state.value.replace("_", " ")
            raise OperatorError(
                f"Bottle {code} is {state}, so no laboratory can have answered for it. Correct the "
                "sample first, or compare the code with the label."
            )
        if desk.outside.open_bottles([code]):
            raise OperatorError(
                f"Bottle {code} holds fluid of a drum or a tank, which has no history to check "
                "against. Take its report in from a file."
            )
        raise NotFoundError(
            f"Nobody registered bottle {code}. Compare it with the label, or register the sample."
        )
    sample = desk.sampling.sample(bottles[0].sample)
    boxes = [BoxFacts._make(row) for row in desk.boxes.rows([sample.compartment])]
    if not boxes:
        raise NotFoundError(
            f"The box of bottle {code} is not in use any more. Bring it back on the Register page."
        )
    return bottles[0], sample, boxes[0]


def _chosen_layout(
    desk: Desk, sample: Sample, known: Mapping[str, LabLayout], wanted: str
) -> LabLayout:
    if wanted:
        return layout_named(list(known.values()), wanted)
    laboratory = desk.keying.laboratory_of(sample.compartment)
    fitting = [one for one in known.values() if one.laboratory == laboratory]
    return (fitting or list(known.values()))[0]


def _found(
    desk: Desk,
    place: Workplace,
    whose: tuple[OpenBottle, Sample, BoxFacts],
    layout: LabLayout,
    today: date,
) -> _Found:
    bottle, sample, box = whose
    analytes = place.catalogue.analytes
    register_row = desk.register.row(
        RecordKey(RecordKind.COMPARTMENT, sample.site, sample.compartment)
    )
    own_list = register_row["test_list_code"] or ""
    ordered = ordered_tests(desk, compartment_kind=box.kind, own_list=own_list)
    usual = _usually_reported(desk, place, sample)
    coded = sorted({*ordered, *usual} or set(analytes), key=lambda one: analytes[one].order)
    form = form_columns(layout, analytes, coded=coded)
    listed = _listed(form)
    columns = _placed(form, listed)
    open_ones = [
        one for one in desk.sampling.in_states(AWAITED) if one.id != sample.id and one.bottle_code
    ][:_MOST_OTHERS]
    foretold = foretell(desk, place.catalogue, [sample, *open_ones], listed)
    others = np.arange(1, 1 + len(open_ones), dtype=np.int64)
    reported = {
        one.code for at, one in enumerate(listed) if foretold.before_signs[0, at] <= Sign.PRESENT
    }
    wanted = reported or set(ordered)
    basis = CheckBasis(
        layout=layout,
        columns=columns,
        known=foretold.expected.traits,
        own=foretold.row(0),
        others=foretold.rows(others),
        other_bottles=_boxes_in_words(desk, place, open_ones),
        before=np.where(foretold.before_signs[0] <= Sign.ABOVE, foretold.before[0], np.nan),
        fresh=foretold.fresh[0],
        decimals=_places(desk, place, sample, columns),
        expected_keys=frozenset(
            one.key for one in columns if any(v.analyte.code in wanted for v in one.values)
        ),
        taken_on=sample.taken_on,
        meter=sample.meter_value,
        machine_hours=sample.true_hours,
        newest_issue=bottle.newest_issue,
        newest_report=bottle.newest_report,
        second=read_second_entry(desk),
        today=today,
    )
    return _Found(bottle, sample, box, layout, columns, foretold, basis)


def _usually_reported(desk: Desk, place: Workplace, sample: Sample) -> set[str]:
    columns = desk.blocks.one(sample.compartment)
    if columns is None or not len(columns):
        return set()
    numbers = place.catalogue.by_number
    seen = columns.signs[-1] <= Sign.PRESENT
    return {
        numbers[number].code
        for number, is_there in zip(columns.analytes, seen.tolist(), strict=True)
        if is_there and number in numbers
    }


def _listed(form: Sequence[tuple[ValueColumn, ...]]) -> list[Analyte]:
    """Every analyte of the form once, in its order."""
    return list({one.analyte.code: one.analyte for column in form for one in column}.values())


def _placed(
    form: Sequence[tuple[ValueColumn, ...]], listed: Sequence[Analyte]
) -> tuple[FormColumn, ...]:
    place = {one.code: at for at, one in enumerate(listed)}
    return tuple(
        FormColumn(
            key=column[0].header,
            values=column,
            places=tuple(place[one.analyte.code] for one in column),
        )
        for column in form
    )


def _boxes_in_words(
    desk: Desk, place: Workplace, samples: Sequence[Sample]
) -> tuple[tuple[str, str], ...]:
    boxes = {
        one.compartment_id: f"{place.catalogue.box_name(one.kind, one.position)} of {one.machine}"
        for one in map(BoxFacts._make, desk.boxes.rows({one.compartment for one in samples}))
    }
    return tuple((one.bottle_code, boxes.get(one.compartment, "")) for one in samples)


def _places(
    desk: Desk, place: Workplace, sample: Sample, columns: Sequence[FormColumn]
) -> dict[str, int]:
    """The most places behind the point each analyte of this box was printed with in this unit."""
    units = {
        value.analyte.number: normal_header(value.printed_unit)
        for column in columns
        for value in column.values
    }
    seen: Counter[int] = Counter()
    most: dict[int, int] = {}
    for number, unit, places in desk.keying.printed_places(sample.compartment):
        if units.get(number) == normal_header(unit):
            seen[number] += 1
            most[number] = max(most.get(number, 0), places)
    codes = place.catalogue.by_number
    return {
        codes[number].code: places
        for number, places in most.items()
        if seen[number] >= _LEAST_PLACES
    }


def _facts(place: Workplace, found: _Found, choices: tuple[LayoutChoice, ...]) -> OpenReport:
    bottle, sample, box, basis = found.bottle, found.sample, found.box, found.basis
    cells = tuple(_cell(found, column) for column in found.columns)
    return OpenReport(
        bottle_code=bottle.bottle_code,
        sample=sample.id,
        site_id=sample.site,
        site=box.site,
        machine=box.machine,
        compartment=place.catalogue.box_name(box.kind, box.position),
        compartment_id=sample.compartment,
        taken_on=sample.taken_on,
        meter=sample.meter_value,
        fluid_hours=sample.fluid_hours,
        layout=found.layout.name,
        laboratory=found.layout.laboratory,
        layouts=choices,
        heads=tuple(field for role, field in _HEADS.items() if role in found.layout.roles),
        cells=cells,
        to_confirm=tuple(to_confirm(basis, found.foretold)),
        severity=Severity.NO_VERDICT if box.severity is None else Severity(box.severity),
        newest_issue=bottle.newest_issue,
        newest_report=bottle.newest_report,
        note=_note(bottle, sample),
        basis=basis,
    )


def _note(bottle: OpenBottle, sample: Sample) -> str:
    if bottle.newest_issue:
        return (
            f"Report {bottle.newest_report}, issue {bottle.newest_issue}, is in already. Key only "
            "a later issue: it replaces the earlier one."
        )
    if sample.state is SampleState.ISSUED:
        return "The bottle was labelled, but nobody noted that it was drawn."
    return ""


def _cell(found: _Found, column: FormColumn) -> GridCell:
    first = column.values[0]
    name = "Contamination code" if column.is_code else first.analyte.name
    codes = tuple(one.analyte.code for one in column.values)
    return GridCell(
        key=column.key,
        heading=column.key,
        name=name,
        unit="" if first.analyte.is_presence_test else first.printed_unit,
        analytes=codes,
        is_presence_test=first.analyte.is_presence_test,
        is_expected=column.key in found.basis.expected_keys,
        expected=expected_of(found.basis, found.foretold, column),
        decides=found.basis.second.mode != "off"
        and bool(set(codes) & set(found.basis.second.analytes)),
    )
