"""A draft under edit: every step can be undone, and what is sound is saved in the background."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date
from typing import Any, Final

from PySide6.QtCore import QObject, QTimer, Signal
from PySide6.QtGui import QUndoCommand, QUndoStack
from typing_extensions import override

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.viewstate.limit_calls import LimitCalls
from fluiddesk.desktop.viewstate.limit_draft import (
    DraftRow,
    DraftRows,
    RuleDraft,
    RuleList,
    identity,
)
from fluiddesk.desktop.viewstate.limit_settings import SettingRow, written_setting
from fluiddesk.desktop.viewstate.limit_writing import (
    refused,
    switched_off,
    switched_on,
    written,
    written_interval,
)
from fluiddesk.domain.limits.interval_rule import IntervalRule
from fluiddesk.domain.limits.limit_set import Limit, LimitSet
from fluiddesk.services.limit_rules.facts import DraftFacts, Edited
from fluiddesk.wiring import Clock

_SAVE_AFTER_MS: Final = 250
_RIVAL: Final = "Another row says the same thing for this scope. Change that one, or take it out."
AnyRow = DraftRow[Any] | SettingRow


class RuleEditing(QObject):
    """Turns what is typed into steps, and keeps the database in step with them.

    Signals:
        edited: a row was put or taken out: the ``RuleList`` and the row's key.
        saved: what is sound now stands in the database.
        refused: an exception that kept the draft from being saved.
    """

    edited = Signal(object, int)
    saved = Signal()
    refused = Signal(object)

    def __init__(
        self, calls: LimitCalls, *, clock: Clock, background: Background, parent: QObject
    ) -> None:
        super().__init__(parent)
        self._calls, self._clock, self._background = calls, clock, background
        self.undo_stack = QUndoStack(self)
        self.draft: RuleDraft | None = None
        self.version = 0
        self._is_saving = False
        self._waiting: list[Callable[[], None]] = []
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(_SAVE_AFTER_MS)
        self._timer.timeout.connect(self.save)

    @property
    def who(self) -> str:
        """The person at the desk."""
        return self._calls.place.who

    def begin(self, facts: DraftFacts, *, base: LimitSet | None) -> None:
        """Edit a draft as it is saved; steps of another one are forgotten."""
        is_same = self.draft is not None and self.draft.number == facts.number
        if is_same and facts.version == self.version:
            return
        self._timer.stop()
        self.undo_stack.clear()
        self.draft, self.version = RuleDraft(facts.limit_set, base=base), facts.version

    def forget(self) -> None:
        """Edit nothing any more: the draft is gone, or is to be read anew."""
        self._timer.stop()
        self.undo_stack.clear()
        self.draft = None

    # --- steps ------------------------------------------------------------------------------

    def type_limit(self, key: int, name: str, text: str) -> None:
        """Take what was typed into a cell of a limit."""
        if self.draft is not None:
            row = self.draft.limits.row(key)
            after = written(row, name, text, who=self.who)
            rival = self.draft.limits.rival(after.rule)
            if rival is not None and rival.key != key:
                after = refused(row, name, text, _RIVAL)
            self.put(RuleList.LIMITS, row, after)

    def type_interval(self, key: int, name: str, text: str) -> None:
        """Take what was typed into a cell of an interval rule."""
        if self.draft is not None:
            row = self.draft.intervals.row(key)
            self.put(RuleList.INTERVALS, row, written_interval(row, name, text, who=self.who))

    def type_setting(self, key: int, text: str) -> None:
        """Take what was typed into the field of a setting; an empty one means the usual value."""
        if self.draft is not None:
            row = self.draft.settings.row(key)
            self.put(RuleList.SETTINGS, row, written_setting(row, text))

    def add(self, rule: Limit | IntervalRule) -> None:
        """Add a row, in place of one of the same scope and subject."""
        if self.draft is None:
            return
        which = RuleList.INTERVALS if isinstance(rule, IntervalRule) else RuleList.LIMITS
        rows = self._rows(which)
        rival = rows.rival(rule)
        self.put(which, rival, self._in_place_of(rows, rival, rule))

    @staticmethod
    def _in_place_of(
        rows: DraftRows[Any], rival: DraftRow[Any] | None, rule: Limit | IntervalRule
    ) -> DraftRow[Any]:
        if rival is None:
            return rows.fresh(rule)
        return replace(rival, rule=rule, typed={}, told={}, last_sound=rival.counts)

    def add_all(self, rules: list[Limit]) -> None:
        """Add rows in one step, each in place of one of the same scope and subject."""
        if self.draft is None:
            return
        rivals = {identity(row.rule): row for row in self.draft.limits.rows}
        steps = []
        for rule in rules:
            rival = rivals.get(identity(rule))
            after = self._in_place_of(self.draft.limits, rival, rule)
            rivals[identity(rule)] = after
            if rival != after:
                steps.append((RuleList.LIMITS, rival, after))
        if steps:
            self.undo_stack.push(_Step(self, steps))

    def take_out(self, which: RuleList, key: int) -> None:
        """Take a row out of the draft."""
        if self.draft is not None:
            self.put(which, self._rows(which).row(key), None)

    def switch_off(self, key: int, *, reason: str, until: date) -> None:
        """Switch a limit off for its scope."""
        if self.draft is not None:
            row = self.draft.limits.row(key)
            off = switched_off(row, reason=reason, until=until, who=self.who)
            self.put(RuleList.LIMITS, row, off)

    def switch_on(self, key: int) -> None:
        """Use a limit again."""
        if self.draft is not None:
            row = self.draft.limits.row(key)
            self.put(RuleList.LIMITS, row, switched_on(row, who=self.who))

    def put(self, which: RuleList, before: AnyRow | None, after: AnyRow | None) -> None:
        """Do one step: put a row in, change it or take it out."""
        if before != after:
            self.undo_stack.push(_Step(self, [(which, before, after)]))

    def place_all(self, states: Sequence[tuple[RuleList, int, AnyRow | None]]) -> None:
        """Bring several rows to their states at once."""
        if self.draft is None or not states:
            return
        for which, key, row in states:
            self._bring(which, key, row)
        self._timer.start()
        self.edited.emit(*states[0][:2])

    def _bring(self, which: RuleList, key: int, row: AnyRow | None) -> None:
        if self.draft is not None and which is RuleList.SETTINGS:
            self.draft.settings.put(key, row if isinstance(row, SettingRow) else None)
        else:
            self._rows(which).put(key, row if isinstance(row, DraftRow) else None)

    def _rows(self, which: RuleList) -> DraftRows[Any]:
        if self.draft is None:
            raise LookupError("no draft is being edited")
        return self.draft.limits if which is RuleList.LIMITS else self.draft.intervals

    # --- saving -----------------------------------------------------------------------------

    @property
    def is_saved(self) -> bool:
        """Whether the database holds everything that is sound."""
        if self.draft is None:
            return True
        return not self._is_saving and not self.draft.unsaved()[0]

    def when_saved(self, then: Callable[[], None]) -> None:
        """Save now, and go on once everything sound is saved."""
        self._waiting.append(then)
        self.save()

    def save(self) -> None:
        """Save what is sound and not saved yet."""
        self._timer.stop()
        if self._is_saving:
            return
        edits, noted = ([], _nothing) if self.draft is None else self.draft.unsaved()
        if self.draft is None or not edits:
            self._go_on()
            return
        number, version, moment = self.draft.number, self.version, self._clock.moment()
        self._is_saving = True
        self._background.run(
            lambda _: self._calls.save(number, edits, version=version, moment=moment),
            done=lambda edited: self._after_save(edited, noted),
            failed=self._refuse,
            label=self.tr("Saving the draft"),
        )

    def _after_save(self, edited: Edited, noted: Callable[[], None]) -> None:
        self._is_saving = False
        if self.draft is None or self.draft.number != edited.draft.number:
            return
        noted()
        self.version = edited.draft.version
        self.save()

    def _go_on(self) -> None:
        waiting, self._waiting = self._waiting, []
        self.saved.emit()
        for then in waiting:
            then()

    def _refuse(self, error: Exception) -> None:
        self._is_saving = False
        self._waiting = []
        self.refused.emit(error)


def _nothing() -> None:
    """What there is to note where nothing was saved."""


class _Step(QUndoCommand):
    """Rows of a draft before and after."""

    def __init__(
        self,
        editing: RuleEditing,
        rows: Sequence[tuple[RuleList, AnyRow | None, AnyRow | None]],
    ) -> None:
        super().__init__()
        self._editing = editing
        self._before = [(which, _key(before, after), before) for which, before, after in rows]
        self._after = [(which, _key(before, after), after) for which, before, after in rows]

    @override
    def undo(self) -> None:
        # Backwards, as one row may have been brought to two states in a row.
        self._editing.place_all(self._before[::-1])

    @override
    def redo(self) -> None:
        self._editing.place_all(self._after)


def _key(before: AnyRow | None, after: AnyRow | None) -> int:
    held = after or before
    return -1 if held is None else held.key
