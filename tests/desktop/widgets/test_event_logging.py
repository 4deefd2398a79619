"""Logging an event from the page: checked while it is written, saved, and taken back."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, cast

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QVBoxLayout, QWidget
from pytestqt.qtbot import QtBot

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.theme import make_theme
from fluiddesk.desktop.widgets import event_logging as module
from fluiddesk.desktop.widgets.event_form import EventForm
from fluiddesk.desktop.widgets.event_logging import EventLogging
from fluiddesk.desktop.widgets.inline_notice import InlineNotice
from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.fleet import EventKind
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.compartment_history.event_checks import EventCheck, EventEntry
from fluiddesk.services.compartment_history.log_event import EventLogged
from fluiddesk.wiring import Clock
from tests.desktop.makers_history import BOX, TODAY, make_history
from tests.desktop.makers_wear import OTHER_BOX

if TYPE_CHECKING:
    from fluiddesk.services.workplace import Workplace

CHANGES = Changes(subjects=frozenset({Subject.FLEET}), compartments=frozenset({BOX}))


@dataclass
class Service:
    """What the use cases were asked, and what they answer."""

    check: EventCheck = field(default_factory=EventCheck)
    refusal: OperatorError | None = None
    checked: list[EventEntry] = field(default_factory=list)
    logged: list[EventEntry] = field(default_factory=list)
    withdrawn: list[bytes] = field(default_factory=list)

    def check_event(self, _place: object, _box: object, entry: EventEntry, **_: Any) -> EventCheck:
        self.checked.append(entry)
        return self.check

    def log_event(self, _place: object, _box: object, entry: EventEntry, **_: Any) -> EventLogged:
        if self.refusal is not None:
            raise self.refusal
        self.logged.append(entry)
        return EventLogged(event_id=b"event", told="Top-up saved.", changes=CHANGES)

    def withdraw_event(self, _place: object, _box: object, key: bytes, **_: Any) -> EventLogged:
        self.withdrawn.append(key)
        return EventLogged(event_id=b"denied", told="Top-up saved.", changes=CHANGES)


@dataclass
class Desk:
    """The parts of a page that log an event, and the page that holds them."""

    page: QWidget
    form: EventForm
    notice: InlineNotice
    logging: EventLogging
    service: Service


@pytest.fixture
def background(qtbot: QtBot) -> Iterator[Background]:
    made = Background()
    yield made
    made.close()


@pytest.fixture
def desk(background: Background, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch) -> Desk:
    service = Service()
    for name in ("check_event", "log_event", "withdraw_event"):
        monkeypatch.setattr(module, name, getattr(service, name))
    monkeypatch.setattr(module, "fluids_offered", lambda _place: (("eo", "Engine oil 15W-40"),))
    page, theme = QWidget(), make_theme("light")
    form, notice = EventForm(theme), InlineNotice(theme)
    column = QVBoxLayout(page)
    column.addWidget(notice)
    column.addWidget(form)
    logging = EventLogging(
        cast("Workplace", None),
        clock=Clock(demo_day=TODAY),
        background=background,
        form=form,
        notice=notice,
        parent=page,
    )
    qtbot.addWidget(page)
    page.setAttribute(Qt.WidgetAttribute.WA_DontShowOnScreen)
    page.show()
    logging.open(make_history())
    return Desk(page=page, form=form, notice=notice, logging=logging, service=service)


def write_litres(desk: Desk, qtbot: QtBot, text: str = "4") -> None:
    with qtbot.waitSignal(desk.form.written):
        desk.form.editor.write("litres", text)
    qtbot.waitUntil(lambda: bool(desk.service.checked))


def test_that_the_form_opens_for_a_top_up_of_the_box_on_show(desk: Desk) -> None:
    assert not desk.form.isHidden()
    assert desk.form.draft is not None
    assert desk.form.draft.texts["kind"] == EventKind.TOP_UP.value
    assert not desk.form.editor.save_button.isEnabled()


def test_that_what_is_written_is_checked_while_it_is_written(desk: Desk, qtbot: QtBot) -> None:
    desk.service.check = EventCheck(refused=("The box holds 38 L; 60 L is more.",))
    write_litres(desk, qtbot, "60")
    qtbot.waitUntil(lambda: not desk.form.refusal.isHidden())
    assert desk.service.checked[-1].litres == 60.0
    assert not desk.form.editor.save_button.isEnabled()


def test_that_a_question_must_be_confirmed_before_it_is_saved(desk: Desk, qtbot: QtBot) -> None:
    desk.service.check = EventCheck(asks=("20 L is 53 % of the box. Was it a fluid change?",))
    write_litres(desk, qtbot, "20")
    qtbot.waitUntil(lambda: not desk.form.question.isHidden())
    assert not desk.form.editor.save_button.isEnabled()
    desk.form.confirm.setChecked(True)
    assert desk.form.editor.save_button.isEnabled()
    with qtbot.waitSignal(desk.logging.changed):
        desk.form.editor.save()
    assert desk.service.logged[0].is_confirmed


def test_that_another_question_takes_the_confirmation_back(desk: Desk) -> None:
    desk.form.say((), ("Was it another one?",))
    desk.form.confirm.setChecked(True)
    desk.form.say((), ("Is the day right?",))
    assert not desk.form.is_confirmed


def test_that_a_logged_event_is_told_and_passed_on(desk: Desk, qtbot: QtBot) -> None:
    write_litres(desk, qtbot)
    with qtbot.waitSignal(desk.logging.changed) as heard:
        desk.form.editor.save()
    assert heard.args == [CHANGES]
    assert desk.form.isHidden()
    assert "Top-up saved" in desk.notice.text


def test_that_undo_denies_the_event_just_logged(desk: Desk, qtbot: QtBot) -> None:
    write_litres(desk, qtbot)
    with qtbot.waitSignal(desk.logging.changed):
        desk.form.editor.save()
    undo = desk.notice.actions_shown[0]
    assert undo.text() == "Undo"
    with qtbot.waitSignal(desk.logging.changed):
        undo.click()
    assert desk.service.withdrawn == [b"event"]
    assert "denied" in desk.notice.text


def test_that_a_refusal_keeps_what_is_written(desk: Desk, qtbot: QtBot) -> None:
    desk.service.refusal = OperatorError("The day lies before the machine.")
    write_litres(desk, qtbot)
    desk.form.editor.save()
    qtbot.waitUntil(lambda: not desk.form.refusal.isHidden())
    assert desk.form.draft is not None
    assert desk.form.draft.texts["litres"] == "4"
    assert "before the machine" in desk.form.refusal.text()


def test_that_another_kind_brings_its_own_fields(desk: Desk, qtbot: QtBot) -> None:
    with qtbot.waitSignal(desk.form.kind_chosen):
        desk.form.editor.write("kind", EventKind.COMPONENT_FIT.value)
    qtbot.waitUntil(lambda: "serial" in (desk.form.draft.texts if desk.form.draft else ()))
    assert desk.form.editor.editor("serial") is not None


def test_that_escape_puts_the_form_away(desk: Desk, qtbot: QtBot) -> None:
    qtbot.keyClick(desk.form, Qt.Key.Key_Escape)
    assert desk.form.isHidden()


def test_that_another_box_closes_the_form(desk: Desk) -> None:
    desk.logging.follow(make_history())
    assert not desk.form.isHidden()
    desk.logging.follow(replace(make_history(), compartment=OTHER_BOX))
    assert desk.form.isHidden()
