"""A draft of a limit set while it is edited: rows by key, what is typed, and what is wrong."""

from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import Enum
from functools import cached_property
from types import MappingProxyType
from typing import Final, Generic, TypeVar

from fluiddesk.desktop.viewstate.limit_settings import SettingRow, SettingRows
from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.limits.interval_rule import IntervalRule, check_interval
from fluiddesk.domain.limits.limit_set import Limit, LimitSet, check_limit
from fluiddesk.services.limit_rules.facts import EditKind, RowEdit

Rule = TypeVar("Rule", Limit, IntervalRule)
_NOTHING: Final[Mapping[str, str]] = MappingProxyType({})


class RuleList(Enum):
    """The lists of a limit set."""

    LIMITS = "limits"
    INTERVALS = "intervals"
    SETTINGS = "settings"


@dataclass(frozen=True, kw_only=True)
class DraftRow(Generic[Rule]):
    """One row of a draft.

    Attributes:
        key: the row's own number inside its list.
        rule: the rule as written, sound or not.
        was: the same rule in the set the draft was made from; ``None`` for a row of the draft's.
        typed: texts that cannot be read, kept as they were typed, by the rule's field.
        told: what is wrong with each of those texts, with its remedy.
        last_sound: what counts while something is wrong with the row; ``None``: nothing.
    """

    key: int
    rule: Rule
    was: Rule | None = None
    typed: Mapping[str, str] = field(default_factory=lambda: _NOTHING)
    told: Mapping[str, str] = field(default_factory=lambda: _NOTHING)
    last_sound: Rule | None = None

    @cached_property
    def problem(self) -> str:
        """What is wrong with the row as a whole; empty while it is sound.

        Kept, as every step asks all rows.
        """
        for text in self.told.values():
            return text
        return rule_problem(self.rule)

    def cell_problem(self, name: str) -> str:
        """What is wrong with one cell: an unreadable text, or bounds that do not go together."""
        return self.told.get(name, "") if self.told else self.problem

    @property
    def is_changed(self) -> bool:
        """Whether it differs from the set the draft was made from."""
        return bool(self.typed) or self.rule != self.was

    @property
    def counts(self) -> Rule | None:
        """The rule that samples are judged by, and that is saved, as things stand."""
        return self.last_sound if self.problem else self.rule


def rule_problem(rule: Limit | IntervalRule) -> str:
    """Why a rule cannot hold as it stands, without the name of its row; empty where it can."""
    try:
        if isinstance(rule, IntervalRule):
            check_interval(rule)
        else:
            check_limit(rule)
    except OperatorError as wrong:
        return str(wrong).partition(": ")[2] or str(wrong)
    if isinstance(rule, Limit) and rule.is_off and not rule.note.strip():
        return "A row that is switched off needs a reason. Write one."
    return ""


def identity(rule: Limit | IntervalRule) -> Hashable:
    """What two rules of a set must not share: scope, and for limits analyte, kind, direction."""
    return (rule.scope, rule.key) if isinstance(rule, Limit) else rule.scope


class DraftRows(Generic[Rule]):
    """The rows of one list; they are put and taken by the steps of undo."""

    def __init__(self, saved: Sequence[Rule], base: Iterable[Rule]) -> None:
        """Begin with what is saved.

        Args:
            saved: the rules of the draft, in their order.
            base: those of the set the draft was made from.
        """
        before: dict[Hashable, Rule] = {identity(one): one for one in base}
        self._rows: dict[int, DraftRow[Rule]] = {
            number: DraftRow(key=number, rule=one, was=before.get(identity(one)), last_sound=one)
            for number, one in enumerate(saved)
        }
        self._saved: dict[int, Rule] = dict(enumerate(saved))
        self._base: dict[Hashable, Rule] = before
        self._next = len(saved)

    @property
    def rows(self) -> tuple[DraftRow[Rule], ...]:
        """Every row, in the order of their keys."""
        return tuple(self._rows[key] for key in sorted(self._rows))

    def row(self, key: int) -> DraftRow[Rule]:
        """One row."""
        return self._rows[key]

    def fresh(self, rule: Rule) -> DraftRow[Rule]:
        """A new row with a key of its own, not put yet."""
        self._next += 1
        return DraftRow(key=self._next - 1, rule=rule, was=self._base.get(identity(rule)))

    def put(self, key: int, row: DraftRow[Rule] | None) -> None:
        """Put a row in place of what stood there; ``None`` takes it out."""
        if row is None:
            self._rows.pop(key, None)
        else:
            self._rows[key] = row

    def rival(self, rule: Rule) -> DraftRow[Rule] | None:
        """The row that already says something of the same scope and subject."""
        wanted = identity(rule)
        return next((row for row in self.rows if identity(row.rule) == wanted), None)

    @property
    def counting(self) -> tuple[Rule, ...]:
        """The rules that count now; rows with a problem as they last were sound."""
        return tuple(rule for row in self.rows if (rule := row.counts) is not None)

    @property
    def left_out(self) -> int:
        """How many rules of the set the draft was made from it no longer holds."""
        held = {identity(row.rule) for row in self._rows.values()}
        return sum(key not in held for key in self._base)

    # --- saving -----------------------------------------------------------------------------

    def unsaved(self) -> tuple[list[RowEdit], dict[int, Rule]]:
        """The edits that bring what is saved to what counts now, and what is then saved."""
        now = {row.key: rule for row in self.rows if (rule := row.counts) is not None}
        places = sorted(self._saved)
        edits = [
            _removal(place, is_interval=isinstance(self._saved[key], IntervalRule))
            for place, key in reversed(list(enumerate(places)))
            if key not in now
        ]
        places = [key for key in places if key in now]
        for place, key in enumerate(sorted(now)):
            if key not in self._saved:
                places.insert(place, key)
                at = None if place == len(places) - 1 else place
                edits.append(_edit(EditKind.ADD, at, now[key]))
            elif self._saved[key] != now[key]:
                edits.append(_edit(EditKind.CHANGE, place, now[key]))
        return edits, now

    def note_saved(self, saved: dict[int, Rule]) -> None:
        """Take note of what the database now holds."""
        self._saved = saved


def _removal(place: int, *, is_interval: bool) -> RowEdit:
    return RowEdit(kind=EditKind.REMOVE, place=place, is_interval=is_interval)


def _edit(kind: EditKind, place: int | None, rule: Limit | IntervalRule) -> RowEdit:
    if isinstance(rule, IntervalRule):
        return RowEdit(kind=kind, place=place, interval=rule, is_interval=True)
    return RowEdit(kind=kind, place=place, limit=rule)


class RuleDraft:
    """A limit set that is being edited: its limits, its interval rules and its settings."""

    def __init__(self, saved: LimitSet, *, base: LimitSet | None) -> None:
        """Begin with the saved draft and the set it was made from."""
        self._set = saved
        limits = () if base is None else base.limits
        intervals = () if base is None else base.intervals
        self.limits = DraftRows(saved.limits, limits)
        self.intervals = DraftRows(saved.intervals, intervals)
        self.settings = SettingRows(saved.settings, {} if base is None else base.settings)

    @property
    def number(self) -> int:
        """The number of the draft."""
        return self._set.number

    @property
    def written(self) -> LimitSet:
        """The set as it is written, whether its rows are sound or not: what the page shows."""
        return self._with([row.rule for row in self.limits.rows], self.intervals.rows)

    @property
    def counting(self) -> LimitSet:
        """The set as the fleet can be judged by now."""
        return replace(
            self._set,
            limits=self.limits.counting,
            intervals=self.intervals.counting,
            settings=self.settings.counting,
        )

    def _with(
        self, limits: Sequence[Limit], intervals: Sequence[DraftRow[IntervalRule]]
    ) -> LimitSet:
        return replace(
            self._set,
            limits=tuple(limits),
            intervals=tuple(one.rule for one in intervals),
            settings=self.settings.counting,
        )

    @property
    def problem_count(self) -> int:
        """How many rows keep the draft from being put in force."""
        return self._count(lambda row: bool(row.problem))

    @property
    def changed_count(self) -> int:
        """How many rows differ from the set the draft was made from."""
        changed = self._count(lambda row: row.is_changed)
        return changed + self.limits.left_out + self.intervals.left_out

    def _count(
        self, wanted: Callable[[DraftRow[Limit] | DraftRow[IntervalRule] | SettingRow], bool]
    ) -> int:
        limits = sum(wanted(row) for row in self.limits.rows)
        intervals = sum(wanted(row) for row in self.intervals.rows)
        return limits + intervals + sum(wanted(row) for row in self.settings.rows)

    @property
    def first_wrong(self) -> tuple[RuleList, int, str] | None:
        """The first row that keeps the draft from being put in force: list, key, problem."""
        lists = (
            (RuleList.LIMITS, self.limits.rows),
            (RuleList.INTERVALS, self.intervals.rows),
            (RuleList.SETTINGS, self.settings.rows),
        )
        wrong = ((which, row.key, row.problem) for which, rows in lists for row in rows)
        return next((one for one in wrong if one[2]), None)

    @property
    def sentence(self) -> str:
        """How much of the draft is changed, and what is wrong with it."""
        changed, wrong = self.changed_count, self.problem_count
        told = "nothing changed yet" if not changed else f"{_rows(changed)} changed"
        name = f'Draft {self._set.number} "{self._set.name}": {told}'
        return f"{name}, {_rows(wrong)} with a problem." if wrong else f"{name}."

    def unsaved(self) -> tuple[list[RowEdit], Callable[[], None]]:
        """The edits to save, and what to call once they are saved."""
        limit_edits, limits = self.limits.unsaved()
        interval_edits, intervals = self.intervals.unsaved()
        setting_edits, settings = self.settings.unsaved()

        def noted() -> None:
            self.limits.note_saved(limits)
            self.intervals.note_saved(intervals)
            self.settings.note_saved(settings)

        return [*limit_edits, *interval_edits, *setting_edits], noted


def _rows(count: int) -> str:
    return "1 row" if count == 1 else f"{count} rows"
