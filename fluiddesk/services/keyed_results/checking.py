"""Checks a draft as it stands: pure, without the database, after every field."""

from collections.abc import Iterator, Mapping
from dataclasses import replace

from fluiddesk.domain.samples import Sign
from fluiddesk.intake.matching import same_readings
from fluiddesk.services.keyed_results.basis import CheckBasis
from fluiddesk.services.keyed_results.cells import read_text
from fluiddesk.services.keyed_results.facts import (
    Answer,
    CellRead,
    Checked,
    Draft,
    KeyWarning,
    OpenReport,
    WarningKind,
)
from fluiddesk.services.keyed_results.numbers import typed
from fluiddesk.services.keyed_results.report_checks import report_warnings
from fluiddesk.services.keyed_results.value_checks import value_warnings


def check_report(report: OpenReport, draft: Draft) -> Checked:
    """Every warning about what was typed so far, with the answers given.

    While another bottle fits better and nobody said otherwise, single values are not called
    unusual: they are, for this box, and one question is enough. The same holds for values that
    seem to stand one field off.
    """
    basis = report.basis
    found = typed(basis, draft)
    whole = list(report_warnings(basis, found, draft))
    single = list(value_warnings(basis, found))
    single += _second_warnings(basis, draft, found.reads)
    answered = [_answered(one, draft) for one in [*whole, *single]]
    filled = sum(bool(read.text.strip()) for read in found.reads.values())
    return Checked(
        cells=found.reads,
        warnings=tuple(_without_echoes(answered)),
        filled=filled,
        missing=tuple(
            column.key
            for column in basis.columns
            if column.key in basis.expected_keys and not found.reads[column.key].text.strip()
        ),
        second_wanted=tuple(_second_wanted(basis, draft, found.reads)),
    )


def _answered(warning: KeyWarning, draft: Draft) -> KeyWarning:
    answer = draft.answers.get(warning.key)
    return replace(warning, answer=answer) if answer is not None else warning


def _without_echoes(warnings: list[KeyWarning]) -> Iterator[KeyWarning]:
    """Leave out what one larger warning explains, until that one is answered."""
    shifted: set[str] = set()
    is_elsewhere = False
    for one in warnings:
        if one.answer is Answer.CONFIRMED:
            continue
        is_elsewhere = is_elsewhere or one.kind is WarningKind.OTHER_BOTTLE
        if one.kind is WarningKind.COLUMN_SHIFT:
            shifted |= set(one.moved)
    quiet = (WarningKind.UNUSUAL, WarningKind.DECIMAL_SLIP, WarningKind.TRANSPOSED)
    for one in warnings:
        is_echo = one.cell in shifted or (is_elsewhere and one.kind is WarningKind.UNUSUAL)
        if one.is_hard or one.kind not in quiet or not is_echo:
            yield one


def _deciding(basis: CheckBasis, reads: Mapping[str, CellRead]) -> Iterator[str]:
    """The cells to be entered twice: deciding values with a number or a bound in them."""
    if basis.second.mode == "off":
        return
    for column in basis.columns:
        codes = {one.analyte.code for one in column.values}
        read = reads[column.key]
        has_value = any(one.sign <= Sign.PRESENT for one in read.readings)
        if codes & set(basis.second.analytes) and has_value:
            yield column.key


def _second_wanted(basis: CheckBasis, draft: Draft, reads: Mapping[str, CellRead]) -> Iterator[str]:
    for key in _deciding(basis, reads):
        if not draft.second.get(key, "").strip():
            yield key


def _second_warnings(
    basis: CheckBasis, draft: Draft, reads: Mapping[str, CellRead]
) -> list[KeyWarning]:
    found = []
    for key in _deciding(basis, reads):
        second = draft.second.get(key, "").strip()
        if not second:
            continue
        again = read_text(basis, basis.column(key), second)
        first = {one.analyte: one for one in reads[key].readings}
        other = {one.analyte: one for one in again.readings}
        if again.fault or not same_readings(first, other):
            found.append(_mismatch(basis, key, reads[key], second))
    return found


def _mismatch(basis: CheckBasis, key: str, read: CellRead, second: str) -> KeyWarning:
    column = basis.column(key)
    return KeyWarning(
        key=f"{WarningKind.SECOND_ENTRY.value}:{key}:{read.text.strip()}|{second}",
        kind=WarningKind.SECOND_ENTRY,
        cell=key,
        name=column.values[0].analyte.name,
        text=read.text,
        analyte=column.values[0].analyte.code,
        told=f"{key}: first {read.text.strip()}, second {second}.",
        why="The two entries differ. Look at the report and correct the wrong one.",
        proposed=second,
        is_hard=True,
    )
