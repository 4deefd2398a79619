"""Reads a limit file; a bad one is refused whole, with every problem, its line and its remedy."""

import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Final

from fluiddesk.domain.limits.interval_rule import IntervalRule
from fluiddesk.domain.limits.limit_set import (
    Limit,
    LimitError,
    LimitKind,
    LimitSet,
    LimitSetState,
    Scope,
)
from fluiddesk.domain.limits.settings import settings_of
from fluiddesk.services.limit_rules.check import problems_of
from fluiddesk.services.limit_rules.facts import RuleProblem, RulesRefusedError
from fluiddesk.services.limit_rules.file_fields import (
    FORMAT,
    INTERVAL_FIELDS,
    LIMIT_FIELDS,
    SCOPE_NAMES,
    SET_FIELDS,
    FileField,
)
from fluiddesk.services.limit_rules.row_checks import Known

_TABLES: Final = {"format", "limit_set", "settings", "limit", "interval"}
_HEADER: Final = re.compile(r"^\s*\[\[\s*(limit|interval)\s*\]\]", re.MULTILINE)
_AT_LINE: Final = re.compile(r" \(at line (\d+), column (\d+)\)$")
_NO_DAY: Final = date(2000, 1, 1)
"""A draft's days are set when it is saved."""

Table = Mapping[str, Any]


@dataclass(slots=True)
class _Problems:
    """Collects what is wrong, with the line of the row it is about."""

    lines: Mapping[str, Sequence[int]]
    found: list[RuleProblem] = field(default_factory=list)

    def add(self, told: str, remedy: str, *, table: str = "", place: int = -1) -> None:
        self.found.append(
            RuleProblem(
                place=place,
                where=self.where(table, place),
                told=told,
                remedy=remedy,
                is_interval=table == "interval",
            )
        )

    def where(self, table: str, place: int) -> str:
        known = self.lines.get(table, ())
        line = f" (line {known[place]})" if 0 <= place < len(known) else ""
        return f"[[{table}]]{line}" if place >= 0 else f"[{table}]"


def limit_set_from_text(text: str, *, file: str, known: Known, today: date) -> LimitSet:
    """The limit set of a limit file, as a draft without author and number.

    Args:
        text: the file's content.
        file: what messages call the file.
        known: the names that scopes may use.
        today: the day that off rows are measured against.

    Raises:
        RulesRefusedError: naming every problem with line and row, value and remedy.
    """
    tables = _parsed(text, file)
    problems = _Problems(lines=_row_lines(text, tables))
    _refuse_frame(tables, problems)
    name, note = _set_words(tables, problems)
    limits = [_limit(values) for values in _rows(tables, "limit", LIMIT_FIELDS, problems)]
    intervals = [
        _interval(values) for values in _rows(tables, "interval", INTERVAL_FIELDS, problems)
    ]
    settings = _settings(tables, problems)
    read = LimitSet(
        number=0,
        name=name,
        state=LimitSetState.DRAFT,
        valid_from=_NO_DAY,
        valid_until=None,
        author="",
        note=note,
        limits=tuple(limits),
        intervals=tuple(intervals),
        settings=settings,
    )
    if not problems.found:
        # Rows that come as they are count as kept: their precision is told when put in force.
        for one in problems_of(read, known, today=today, base=read):
            if one.stops:
                table = "interval" if one.is_interval else "limit"
                problems.add(
                    f"{one.where}: {one.told}" if one.where else one.told,
                    one.remedy, table=table, place=one.place,
                )  # fmt: skip
    if problems.found:
        raise RulesRefusedError(file, tuple(problems.found))
    return read


def _parsed(text: str, file: str) -> Table:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        at = _AT_LINE.search(str(fault))
        told = _AT_LINE.sub("", str(fault))
        line = f"line {at[1]}, column {at[2]}: " if at else ""
        problem = RuleProblem(
            place=-1,
            where="",
            told=f"{line}{told}.",
            remedy="The file is no TOML there; correct it, or export a set and compare.",
        )
        raise RulesRefusedError(file, (problem,)) from None


def _row_lines(text: str, tables: Table) -> dict[str, list[int]]:
    """The line of each row's heading; none where headings and rows do not match one to one."""
    lines: dict[str, list[int]] = {"limit": [], "interval": []}
    for found in _HEADER.finditer(text):
        lines[found[1]].append(text.count("\n", 0, found.start(1)) + 1)
    return {
        name: own
        for name, own in lines.items()
        if isinstance(tables.get(name, []), list) and len(own) == len(tables.get(name, []))
    }


def _refuse_frame(tables: Table, problems: _Problems) -> None:
    version = tables.get("format")
    if version != FORMAT or isinstance(version, bool):
        told = "is missing" if version is None else f"reads {version!r}"
        problems.add(f"format {told}.", f"This program reads format = {FORMAT}.", table="limit_set")
    for name in sorted(set(tables) - _TABLES):
        problems.add(
            f'"{name}" is no part of a limit file.',
            f"The parts are: {', '.join(sorted(_TABLES))}.",
            table="limit_set",
        )


def _set_words(tables: Table, problems: _Problems) -> tuple[str, str]:
    table = tables.get("limit_set")
    if not isinstance(table, dict):
        problems.add("The table is missing.", "Write it, with at least a name.", table="limit_set")
        return "", ""
    read = _values(table, SET_FIELDS, problems, table="limit_set", place=-1)
    if read is None:
        return "", ""
    if not str(read["name"]).strip():
        problems.add("name is empty.", "Give the set a name.", table="limit_set")
    return str(read["name"]), str(read["note"])


def _settings(tables: Table, problems: _Problems) -> dict[str, Any]:
    table = tables.get("settings", {})
    if not isinstance(table, dict):
        problems.add("It is no table.", "Write [settings] on a line of its own.", table="settings")
        return {}
    for name, value in table.items():
        try:
            settings_of({name: value})
        except LimitError as fault:
            problems.add(str(fault), "", table="settings")
    return dict(table)


def _rows(
    tables: Table, name: str, fields: Sequence[FileField], problems: _Problems
) -> Iterator[dict[str, Any]]:
    rows = tables.get(name, [])
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        problems.add("It is no list of tables.", f"Write [[{name}]] above each row.", table=name)
        return
    for place, row in enumerate(rows):
        values = _values(row, fields, problems, table=name, place=place)
        if values is not None:
            yield values


def _values(
    row: Table, fields: Sequence[FileField], problems: _Problems, *, table: str, place: int
) -> dict[str, Any] | None:
    """The values of one row, usual ones filled in; ``None`` where something is wrong."""
    known = {one.name: one for one in fields}
    before = len(problems.found)
    for name in row:
        if name not in known:
            problems.add(
                f'"{name}" is no key of this table.',
                f"Its keys are: {', '.join(known)}.",
                table=table,
                place=place,
            )
    for name, one in known.items():
        if name not in row:
            if one.is_needed:
                problems.add(f"{name} is missing.", f"Give {one.told}.", table=table, place=place)
        elif not one.fits(row[name]):
            problems.add(
                f"{name} reads {row[name]!r}.", f"Give {one.told}.", table=table, place=place
            )
    if len(problems.found) > before:
        return None
    return {name: row.get(name, one.usual) for name, one in known.items()}


def _scope(values: dict[str, Any]) -> Scope:
    return Scope(**{name: values.pop(name) for name in SCOPE_NAMES if name in values})


def _limit(values: dict[str, Any]) -> Limit:
    scope = _scope(values)
    for name in ("watch", "act", "urgent", "least_change"):
        values[name] = _float(values[name])
    kind, is_off = LimitKind(values.pop("kind")), bool(values.pop("off"))
    return Limit(scope=scope, kind=kind, is_off=is_off, **values)


def _interval(values: dict[str, Any]) -> IntervalRule:
    scope = _scope(values)
    values["interval_hours"] = _float(values["interval_hours"])
    values["window_share"] = float(values["window_share"])
    return IntervalRule(scope=scope, **values)


def _float(value: float | None) -> float | None:
    return None if value is None else float(value)
