"""What the buttons of the Sampling page do: forms that block nothing, and work elsewhere."""

from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFileDialog, QWidget

from fluiddesk.desktop.viewstate.record_form import Values
from fluiddesk.desktop.viewstate.round_plan import Planned, RoundPlan, Standing
from fluiddesk.desktop.viewstate.sampling_calls import SamplingCalls
from fluiddesk.desktop.viewstate.sampling_forms import give_up_form, labels_form, move_form
from fluiddesk.desktop.viewstate.sampling_words import counted
from fluiddesk.desktop.widgets.file_asking import LastFolders, ask_new_file
from fluiddesk.desktop.widgets.form_acts import FormActs
from fluiddesk.desktop.widgets.page_work import PageWork
from fluiddesk.desktop.widgets.visit_moves import VisitMoves
from fluiddesk.services.visit_papers.facts import LabelStock
from fluiddesk.services.visits.book import Issued, Kept
from fluiddesk.services.visits.facts import Visit
from fluiddesk.services.visits.left_behind import MovedOn
from fluiddesk.wiring import Clock


class RoundActs(FormActs):
    """Keeps, moves and gives up visits, issues their bottles and prints their papers.

    Signals:
        kept_changed: the open visits as they are stored now.
        plan_changed: proposals were left out.
        changed: other pages may have to read anew.
        told: (title, text) of what was done.
    """

    kept_changed = Signal(object)
    plan_changed = Signal()
    changed = Signal()
    told = Signal(str, str)

    def __init__(
        self,
        calls: SamplingCalls,
        *,
        moves: VisitMoves,
        work: PageWork,
        clock: Clock,
        folders: LastFolders,
        window: QWidget,
    ) -> None:
        super().__init__(window)
        self._calls, self._moves, self._work = calls, moves, work
        self._clock, self._folders = clock, folders
        self._plan: RoundPlan | None = None
        self.works_weekends = False
        self.file_dialog: QFileDialog | None = None

    def begin(self, plan: RoundPlan) -> None:
        """Work on another plan from now on."""
        self._plan = plan

    def do(self, key: str, keys: frozenset[bytes]) -> None:
        """Do what a button says with the chosen visits."""
        plan = self._plan
        if plan is None:
            return
        every = {"keep_all": (*plan.proposed, *plan.growing), "move_on": plan.left_behind}
        some = every[key] if key in every else plan.chosen(keys)
        acts: dict[str, Callable[[tuple[Planned, ...]], None]] = {
            "keep": self.keep,
            "keep_all": self.keep,
            "move_on": self.move_on,
            "join": self.join,
            "leave_out": self.leave_out,
            "move": self.ask_move,
            "give_up": self.ask_give_up,
            "issue": self.issue,
            "sheets": self.ask_sheets,
            "kit": self.ask_kit,
            "labels": self.ask_labels,
        }
        if some:
            # Whoever keeps or prints wants the days as they stand on the page.
            self._moves.when_saved(lambda: acts[key](plan.chosen(one.key for one in some)))

    # --- visits -----------------------------------------------------------------------------

    def keep(self, some: Sequence[Planned]) -> None:
        """Save what is proposed among some visits: visits, and bottles that join kept ones."""
        wanted = [proposal for one in some for proposal in one.proposals]
        moment = self._clock.moment()
        if wanted:
            self._keep(
                lambda: self._calls.keep(wanted, moment=moment),
                refusal=self.tr("No visit was kept"),
                label=self.tr("Keeping visits"),
            )

    def _keep(self, work: Callable[[], Kept], *, refusal: str, label: str) -> None:
        """Keep proposals and say whose sheets have to be printed again."""
        today = self._clock.today()

        def done(answer: tuple[Kept, tuple[Visit, ...]]) -> None:
            saved, kept = answer
            self._stored(kept)
            if saved.to_print_again:
                words = self.tr(
                    "{0}. Issue the new bottles, then print the sheet and the new labels again."
                )
                title = self.tr("Printed before bottles joined")
                self.told.emit(title, words.format("; ".join(saved.to_print_again)))

        self._work.start(
            lambda _: (work(), self._calls.kept(today=today)),
            done=done,
            refusal=refusal,
            label=label,
            saves=True,
        )

    def move_on(self, some: Sequence[Planned]) -> None:
        """Move visits that were left behind to the next days the crews have time for."""
        ids = [one.key for one in some]
        today, moment = self._clock.today(), self._clock.moment()

        def work(_: object) -> tuple[MovedOn, tuple[Visit, ...]]:
            moved = self._calls.move_on(
                ids, works_weekends=self.works_weekends, today=today, moment=moment
            )
            return moved, self._calls.kept(today=today)

        def done(answer: tuple[MovedOn, tuple[Visit, ...]]) -> None:
            moved, kept = answer
            self._stored(kept)
            days = [f"{one.machine} to {one.after.isoformat()}" for one in moved.visits]
            self.told.emit("", self.tr("Moved on: {0}.").format(", ".join(days)))

        self._work.start(
            work,
            done=done,
            refusal=self.tr("Not moved"),
            label=self.tr("Moving visits"),
            saves=True,
        )

    def join(self, some: Sequence[Planned]) -> None:
        """Put the bottles of a proposal on the visit kept for its machine."""
        one = some[0]
        to = None if self._plan is None else self._plan.kept_visit_to(one)
        moment = self._clock.moment()
        if to is None:
            return
        kept = to.visit
        self._keep(
            lambda: self._calls.join(one.visit, kept, moment=moment),
            refusal=self.tr("Not put together"),
            label=self.tr("Joining visits"),
        )

    def leave_out(self, some: Sequence[Planned]) -> None:
        """Take proposals off the board; planning anew brings them back."""
        if self._plan is not None:
            self._plan.leave_out(one.key for one in some)
            self.plan_changed.emit()

    def ask_move(self, some: Sequence[Planned]) -> None:
        """Ask for another day and crew."""
        one, plan = some[0], self._plan
        if plan is not None:
            self._ask(move_form(one, plan.crews), lambda values: self._move(one, values))

    def _move(self, one: Planned, values: Values) -> None:
        to, crew = values["to"], str(values.get("crew") or "")
        if not isinstance(to, date):
            return
        if to < self._clock.today():
            if self.dialog is not None:
                self.dialog.refuse(self.tr("{0} has passed. Choose a day to come.").format(to))
            return
        self._close()
        had = one.visit.crew_id.hex() if one.visit.crew_id else ""
        if not one.is_kept or crew in ("", had):
            self._moves.move(one.key, to)
            return
        today, moment = self._clock.today(), self._clock.moment()

        def work(_: object) -> tuple[Visit, ...]:
            self._calls.move(one.visit, to=to, today=today, moment=moment, crew=bytes.fromhex(crew))
            return self._calls.kept(today=today)

        self._start(work, refusal=self.tr("Not moved"), label=self.tr("Moving a visit"))

    def ask_give_up(self, some: Sequence[Planned]) -> None:
        """Ask why visits are given up."""
        wanted = [one for one in some if one.is_kept]
        if wanted:
            self._ask(give_up_form(wanted), lambda values: self._give_up(wanted, values))

    def _give_up(self, some: Sequence[Planned], values: Values) -> None:
        self._close()
        why, today, moment = str(values["why"]), self._clock.today(), self._clock.moment()

        def work(_: object) -> tuple[Visit, ...]:
            self._calls.give_up([one.visit for one in some], why=why, moment=moment)
            return self._calls.kept(today=today)

        self._start(work, refusal=self.tr("Not given up"), label=self.tr("Giving up visits"))

    def issue(self, some: Sequence[Planned]) -> None:
        """Give the bottles of kept visits their codes."""
        ids = [one.visit.id for one in some if one.standing is Standing.KEPT]
        today, moment = self._clock.today(), self._clock.moment()

        def work(_: object) -> tuple[Issued, tuple[Visit, ...]]:
            issued = self._calls.issue(ids, today=today, moment=moment)
            return issued, self._calls.kept(today=today)

        def done(answer: tuple[Issued, tuple[Visit, ...]]) -> None:
            issued, kept = answer
            self._stored(kept)
            words = self.tr("{0} now {1} a code. Print the labels and the sheets.")
            verb = self.tr("has") if issued.count == 1 else self.tr("have")
            self.told.emit("", words.format(counted(issued.count, "bottle"), verb))

        if ids:
            self._work.start(
                work,
                done=done,
                refusal=self.tr("No bottle was issued"),
                label=self.tr("Issuing bottles"),
                saves=True,
            )

    def _start(
        self,
        work: Callable[[object], tuple[Visit, ...]],
        *,
        refusal: str,
        label: str,
    ) -> None:
        self._work.start(work, done=self._stored, refusal=refusal, label=label, saves=True)

    def _stored(self, kept: tuple[Visit, ...]) -> None:
        self.kept_changed.emit(kept)
        self.changed.emit()

    # --- papers -----------------------------------------------------------------------------

    def ask_sheets(self, some: Sequence[Planned]) -> None:
        """Ask where the visit sheets are written to."""
        self._ask_pdf(
            some,
            title=self.tr("Print visit sheets"),
            name="visit_sheets",
            then=self.print_sheets,
        )

    def print_sheets(self, ids: Sequence[bytes], path: Path) -> None:
        """Write the sheets of some visits."""
        today, calls = self._clock.today(), self._calls

        def work(_: object) -> str:
            from fluiddesk.printing.visit_sheet import write_visit_sheets

            sheets = calls.sheets(ids, today=today)
            pages = write_visit_sheets(sheets, path, printed_on=today)
            return f"{counted(len(sheets), 'sheet')} on {counted(pages, 'page')}"

        self._print(work, path)

    def ask_kit(self, some: Sequence[Planned]) -> None:
        """Ask where the kit list is written to."""
        self._ask_pdf(
            some, title=self.tr("Print the kit list"), name="kit_list", then=self.print_kit
        )

    def print_kit(self, ids: Sequence[bytes], path: Path) -> None:
        """Write what the round of some visits needs."""
        today, calls = self._clock.today(), self._calls

        def work(_: object) -> str:
            from fluiddesk.printing.kit_list import write_kit_list

            sheets = calls.sheets(ids, today=today)
            days = sorted(one.planned_on for one in sheets)
            name = f"{counted(len(sheets), 'visit')}, {days[0]} to {days[-1]}"
            write_kit_list(calls.kit(sheets), path, round_name=name, printed_on=today)
            return f"The kit for {counted(len(sheets), 'visit')}"

        self._print(work, path)

    def ask_labels(self, some: Sequence[Planned]) -> None:
        """Ask for stock and first place of the labels, then for the file."""
        kept = [one for one in some if one.is_kept]

        def done(stocks: dict[str, LabelStock]) -> None:
            count = sum(bool(box.bottle_code) for one in kept for box in one.visit.open_boxes)
            if not count:
                self.told.emit(
                    self.tr("No label to print"),
                    self.tr("The bottles of these visits have no code yet. Issue them first."),
                )
                return
            form = labels_form(stocks, labels=count)
            self._ask(form, lambda values: self._ask_label_file(kept, stocks, values))

        self._work.start(
            lambda _: self._calls.label_stocks(),
            done=done,
            refusal=self.tr("No label stock can be read"),
            label=self.tr("Reading label stocks"),
        )

    def _ask_label_file(
        self, some: Sequence[Planned], stocks: dict[str, LabelStock], values: Values
    ) -> None:
        stock, start = stocks[str(values["stock"])], int(str(values["start_at"]))
        places = stock.columns * stock.rows
        if start > places and self.dialog is not None:
            self.dialog.refuse(
                self.tr("A sheet of {0} has {1} places. Give 1 to {1}.").format(stock.name, places)
            )
            return
        self._close()
        self._ask_pdf(
            some,
            title=self.tr("Print labels"),
            name="labels",
            then=lambda ids, path: self.print_labels(ids, path, stock=stock, start_at=start),
        )

    def print_labels(
        self, ids: Sequence[bytes], path: Path, *, stock: LabelStock, start_at: int
    ) -> None:
        """Write the labels of some visits' bottles."""
        today, calls = self._clock.today(), self._calls

        def work(_: object) -> str:
            from fluiddesk.printing.bottle_labels import write_labels

            labels = calls.labels(ids, today=today)
            pages = write_labels(labels, stock, path, start_at=start_at)
            return f"{counted(len(labels), 'label')} on {counted(pages, 'sheet')}"

        self._print(work, path)

    def _ask_pdf(
        self,
        some: Sequence[Planned],
        *,
        title: str,
        name: str,
        then: Callable[[Sequence[bytes], Path], None],
    ) -> None:
        ids = [one.visit.id for one in some if one.is_kept]
        if not ids:
            return
        day = min(one.visit.planned_on for one in some if one.is_kept)
        self.file_dialog = ask_new_file(
            self._window,
            title,
            then=lambda path: then(ids, Path(path)),
            name=f"{name}_{day.isoformat()}.pdf",
            filters=(self.tr("PDF files (*.pdf)"),),
            folders=self._folders,
        )

    def _print(self, work: Callable[[object], str], path: Path) -> None:
        self._work.start(
            work,
            done=lambda words: self.told.emit("", self.tr("{0}: {1}.").format(words, path)),
            refusal=self.tr("Nothing was printed"),
            label=self.tr("Writing {0}").format(path.name),
        )
