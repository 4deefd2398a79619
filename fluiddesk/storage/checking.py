"""Looks for what must not be: damage, broken references, derived tables that say something else."""

from collections.abc import Sequence
from dataclasses import fields
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import and_, or_, select

from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.samples import SampleColumns, Sign
from fluiddesk.domain.severity import Trust
from fluiddesk.storage.blocks import BlockError, unpack
from fluiddesk.storage.desk import Desk
from fluiddesk.storage.store import DeskStore
from fluiddesk.storage.tables.derived import CurrentConditionRow
from fluiddesk.storage.tables.fleet import CompartmentRow, MachineRow
from fluiddesk.storage.tables.judgement import AssessmentRow
from fluiddesk.storage.tables.sampling import SampleRow
from fluiddesk.storage.verdicts import fits

_CHUNK: Final = 200
_FROM_ASSESSMENTS: Final = ("severity", "digest", "reference")
_NOT_COMPARED: Final = {"analytes", "compartment", "values", "signs", *_FROM_ASSESSMENTS}


def check_store(store: DeskStore) -> list[str]:
    """Everything that is wrong with a store, one sentence each; empty where all is well.

    Looks at the file's structure, at references between rows, at the audit trail's chain, at each
    packed history against the readings, and at each compartment's standing against its assessment.
    """
    with store.reading() as desk:
        problems = _structure(desk) if desk.session.is_sqlite else []
        if problems:
            return problems
        return [*desk.audit.verify(), *_histories(desk), *_conditions(desk)]


def _structure(desk: Desk) -> list[str]:
    connection = desk.session.connection
    verdicts = connection.exec_driver_sql("PRAGMA integrity_check").scalars().all()
    damage = [f"the file is damaged: {verdict}" for verdict in verdicts if verdict != "ok"]
    broken = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
    orphans = [f"a row of {one[0]} names a row of {one[2]} that is not there" for one in broken]
    return damage + orphans


def _histories(desk: Desk) -> list[str]:
    names = _compartment_names(desk)
    stored = dict(zip(*desk.blocks.all(), strict=True))
    keys = list(names)
    stood_by = _stood_by(desk)
    told = desk.blocks.verdicts()
    problems: list[str] = []
    for start in range(0, len(keys), _CHUNK):
        chunk = keys[start : start + _CHUNK]
        for key, wanted in desk.blocks.rebuild(chunk).items():
            fault = _history_fault(stored.get(key), wanted) or _verdict_fault(
                stored.get(key), told.get(key)
            )
            if fault:
                problems.append(f"packed history of {names[key]}: {fault}")
            elif key in stood_by and stood_by[key] != _last_believed(wanted):
                problems.append(f"standing of {names[key]}: is not by its last believed sample")
    return problems


def _stood_by(desk: Desk) -> dict[bytes, bytes | None]:
    """The sample each compartment stands by."""
    now = CurrentConditionRow
    found = desk.session.connection.execute(select(now.compartment_id, now.sample_id))
    return {key: sample for key, sample in found}  # noqa: C416  # rows are no pairs to the types


def _last_believed(columns: SampleColumns) -> bytes | None:
    believed = np.flatnonzero(columns.trust != Trust.REJECTED)
    return columns.sample_id[believed[-1]].tobytes() if len(believed) else None


def _history_fault(blob: bytes | None, wanted: SampleColumns) -> str:
    if blob is None:
        return "missing" if len(wanted) else ""
    try:
        found = unpack(blob, 0)
    except BlockError:
        return "cannot be read"
    if len(found) != len(wanted):
        return f"{len(found)} samples, but the readings are of {len(wanted)}"
    numbers = sorted({*found.analytes, *wanted.analytes})
    one, other = _sorted(found, numbers), _sorted(wanted, numbers)
    differing = [name for name in one if not _is_same(one[name], other[name])]
    return f"differs from the readings in {', '.join(differing)}" if differing else ""


def _verdict_fault(blob: bytes | None, told: bytes | None) -> str:
    if blob is None or told is None or fits(unpack(blob, 0), told):
        return ""
    return "its verdicts are of other samples; judge it again with `fluiddesk reassess --all`"


def _sorted(columns: SampleColumns, numbers: Sequence[int]) -> dict[str, NDArray[Any]]:
    """The columns by sample, with the same analytes side by side: what the comparison is about."""
    order = np.lexsort(columns.sample_id.T[::-1])
    at = np.searchsorted(np.array(numbers), np.array(columns.analytes, dtype=np.int64))
    shape = (len(columns), len(numbers))
    values = np.full(shape, np.nan)
    signs = np.full(shape, Sign.NOT_TESTED, dtype=np.uint8)
    values[:, at] = columns.values
    signs[:, at] = columns.signs
    plain = [field.name for field in fields(columns) if field.name not in _NOT_COMPARED]
    answer = {name: getattr(columns, name)[order] for name in plain}
    return answer | {"values": values[order], "signs": signs[order]}


def _is_same(one: NDArray[Any], other: NDArray[Any]) -> bool:
    return bool(np.array_equal(one, other, equal_nan=one.dtype.kind == "f"))


def _compartment_names(desk: Desk) -> dict[CompartmentId, str]:
    wanted = (
        select(CompartmentRow.id, MachineRow.code, CompartmentRow.kind, CompartmentRow.position)
        .join(
            MachineRow,
            and_(
                MachineRow.site_id == CompartmentRow.site_id,
                MachineRow.id == CompartmentRow.machine_id,
            ),
        )
        .order_by(CompartmentRow.site_id, CompartmentRow.id)
    )
    found = desk.session.connection.execute(wanted)
    return {
        CompartmentId(one.id): " ".join(filter(None, (one.code, one.kind, one.position)))
        for one in found
    }


def _conditions(desk: Desk) -> list[str]:
    """Compartments whose standing is not what the assessment in force of its sample says."""
    now, verdict = CurrentConditionRow, AssessmentRow
    in_force = and_(
        verdict.site_id == now.site_id,
        verdict.sample_id == now.sample_id,
        verdict.superseded_by.is_(None),
    )
    differing = (
        select(now.compartment_id)
        .outerjoin(verdict, in_force)
        .where(
            now.sample_id.is_not(None),
            or_(
                verdict.id.is_(None),
                verdict.severity != now.severity,
                verdict.trust != now.trust,
            ),
        )
    )
    missing = (
        select(SampleRow.compartment_id)
        .distinct()
        .join(
            verdict,
            and_(verdict.site_id == SampleRow.site_id, verdict.sample_id == SampleRow.id),
        )
        .outerjoin(
            now,
            and_(now.site_id == SampleRow.site_id, now.compartment_id == SampleRow.compartment_id),
        )
        .where(now.compartment_id.is_(None))
    )
    names = {bytes(key): name for key, name in _compartment_names(desk).items()}
    execute = desk.session.connection.execute
    return [
        *(
            f"standing of {names[key]}: is not what its assessment says"
            for key in execute(differing).scalars()
        ),
        *(f"standing of {names[key]}: missing" for key in execute(missing).scalars()),
    ]
