"""Makes the things tests are about, with sensible defaults: override what the test is about."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from typing import Any

import numpy as np

from fluiddesk.domain.analytes import Analyte, AnalyteFamily
from fluiddesk.domain.limits.alone import Part
from fluiddesk.domain.limits.assessment import Judged, assess, assess_history
from fluiddesk.domain.limits.combining import NO_COMPANIONS, Companions
from fluiddesk.domain.limits.context import JudgingContext, no_context, previous_rows
from fluiddesk.domain.limits.figures import Figures
from fluiddesk.domain.limits.limit_set import Box, Limit, LimitKind, LimitSet, LimitSetState, Scope
from fluiddesk.domain.limits.limit_table import LimitTable, limit_table
from fluiddesk.domain.limits.settings import USUAL, JudgingSettings
from fluiddesk.domain.samples import SampleColumns, Sign
from fluiddesk.domain.severity import Severity, Trust

NO_REFERENCES = np.empty((0, 0))


def make_analyte(code: str = "iron", **changes: Any) -> Analyte:
    """An invented analyte: number 1, whole mg/kg, harmful upwards."""
    given: dict[str, Any] = {
        "number": 1,
        "code": code,
        "name": code.replace("_", " ").capitalize(),
        "symbol": code[:2].capitalize(),
        "family": AnalyteFamily.WEAR,
        "unit": "mg/kg",
        "decimals": 0,
        "harmful": "up",
        "method": "",
        "order": changes.get("number", 1),
    }
    return Analyte(**(given | changes))


def make_limit(
    analyte: str = "iron", bounds: Sequence[float | None] = (60, 100, 150), **changes: Any
) -> Limit:
    """A rising level limit of the whole fleet; ``bounds`` are Watch, Act, Urgent."""
    watch, act, urgent = bounds
    given: dict[str, Any] = {
        "scope": Scope(),
        "analyte": analyte,
        "kind": LimitKind.LEVEL,
        "direction": "up",
        "watch": watch,
        "act": act,
        "urgent": urgent,
        "source": "invented for a test",
        "set_by": "a test",
    }
    return Limit(**(given | changes))


def make_box(**changes: str) -> Box:
    """The engine of a haul truck."""
    given = {
        "machine_kind": "haul_truck",
        "model": "truck 40 t",
        "compartment_kind": "engine",
        "compartment": "0a" * 16,
        "fluid_class": "engine_oil",
    }
    return Box(**(given | changes))


def make_set(limits: Sequence[Limit], number: int = 1, **changes: Any) -> LimitSet:
    """A limit set in force since 1 January 2024."""
    given: dict[str, Any] = {
        "number": number,
        "name": f"set {number}",
        "state": LimitSetState.IN_FORCE,
        "valid_from": date(2024, 1, 1),
        "valid_until": None,
        "author": "a test",
        "note": "",
        "limits": tuple(limits),
    }
    return LimitSet(**(given | changes))


def make_columns(
    values: Sequence[Sequence[float]] | Sequence[float],
    *,
    analytes: Sequence[int] = (1,),
    **given: Any,
) -> SampleColumns:
    """Samples with the given values: one row a sample, or one number a sample of one analyte.

    Signs default to plain (not tested where the value is NaN), ``signs`` and the other columns may
    be given as one value for all or as a list; new-fluid reference -1, trust Good.
    """
    numbers = np.array(values, dtype=np.float64).reshape(-1, len(analytes))
    n = len(numbers)
    plain = np.where(np.isnan(numbers), Sign.NOT_TESTED, Sign.PLAIN)
    signs = np.array(given.pop("signs", plain), dtype=np.uint8)
    columns: dict[str, Any] = {
        "compartment": (0, np.int32),
        "taken_on": (date(2025, 6, 1).toordinal(), np.int32),
        "hours": (np.nan, np.float64),
        "fluid_hours": (np.nan, np.float64),
        "fill": (0, np.int32),
        "trust": (Trust.GOOD, np.int8),
        "severity": (Severity.NO_VERDICT, np.int8),
        "digest": (0, np.uint64),
        "reference": (-1, np.int16),
    }
    made = {
        name: np.array(np.broadcast_to(given.pop(name, default), (n,)), dtype=kind)
        for name, (default, kind) in columns.items()
    }
    assert not given, f"no such columns: {sorted(given)}"
    return SampleColumns(
        analytes=tuple(analytes),
        sample_id=np.arange(n * 16, dtype=np.int64).astype(np.uint8).reshape(n, 16),
        values=numbers,
        signs=(np.full(numbers.shape, signs) if signs.ndim == 0 else signs.reshape(numbers.shape)),
        **made,
    )


def make_table(
    limits: Sequence[Limit], analytes: Mapping[str, Analyte] | None = None
) -> LimitTable:
    """Limits against all the analytes they name, numbered in the order they are first named."""
    if analytes is None:
        codes = dict.fromkeys(limit.analyte for limit in limits)
        analytes = {
            code: make_analyte(code, number=number) for number, code in enumerate(codes, start=1)
        }
    numbers = sorted(analyte.number for analyte in analytes.values())
    return limit_table(limits, analytes=analytes, numbers=numbers)


def judge_values(
    values: Sequence[float],
    *limits: Limit,
    analyte: Analyte | None = None,
    new: float | None = None,
    **columns: Any,
) -> Judged:
    """Judge samples of one analyte; ``new`` is what the new fluid reads, if it is known."""
    known = analyte or make_analyte(limits[0].analyte)
    references = NO_REFERENCES if new is None else np.array([[new]])
    if new is not None:
        columns.setdefault("reference", 0)
    return assess(
        make_columns(values, analytes=(known.number,), **columns),
        make_table(limits, {known.code: known}),
        references=references,
    )


def make_context(columns: SampleColumns, **changes: Any) -> JudgingContext:
    """The context of samples of which nothing else is known: override what the test is about.

    ``previous`` follows from the trusted samples before.
    """
    good = columns.trust == Trust.GOOD
    previous = previous_rows(good, columns.compartment.astype(np.int32))
    return replace(no_context(columns), **({"previous": previous} | changes))


def judge_history(
    columns: SampleColumns,
    limits: Sequence[Limit],
    analytes: Mapping[str, Analyte],
    *,
    references: Any = NO_REFERENCES,
    context: JudgingContext | None = None,
    companions: Companions = NO_COMPANIONS,
    settings: JudgingSettings = USUAL,
) -> Judged:
    """Judge whole boxes by one set of limits."""
    table = limit_table(limits, analytes=analytes, numbers=columns.analytes, settings=settings)
    figures = Figures(
        columns,
        references=references,
        analytes=analytes,
        context=make_context(columns) if context is None else context,
        settings=settings,
    )
    everything = slice(0, len(columns))
    part = Part(at=everything, table=table)
    return assess_history(
        figures, everything, [part], companions=companions, compartment_kind="engine"
    )
