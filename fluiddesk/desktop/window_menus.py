"""The menus of the main window, which reach everything that the pages' own controls do not."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

from PySide6.QtGui import QAction, QActionGroup, QKeySequence
from PySide6.QtWidgets import QApplication, QMainWindow, QMenu

from fluiddesk.desktop.screens.about import AboutDialog
from fluiddesk.desktop.theme import ThemeChoice

Act = Callable[[], object]


@dataclass(frozen=True, kw_only=True)
class MenuActs:
    """What the entries do."""

    open_database: Act
    open_sample: Act
    take_in_file: Act
    open_outside: Callable[[str], object]
    open_sampling: Callable[[str], object]
    show_page: Callable[[int], object]
    find_machine: Act
    search: Act
    choose_theme: Callable[[ThemeChoice], object]
    refresh: Act


def make_menus(window: QMainWindow, acts: MenuActs, *, titles: Sequence[str], theme: str) -> None:
    """Fill a window's menu bar.

    Args:
        window: the window.
        acts: what the entries do.
        titles: the names of the pages, in order.
        theme: the ``ThemeChoice`` in force.
    """
    file = window.menuBar().addMenu(window.tr("&File"))
    standard = QKeySequence.StandardKey
    _add(file, window.tr("&Open database..."), acts.open_database, standard.Open)
    _add(file, window.tr("Open &sample fleet"), acts.open_sample)
    file.addSeparator()
    _add(file, window.tr("&Take in laboratory file..."), acts.take_in_file, "Ctrl+I")
    file.addSeparator()
    _add(file, window.tr("&Quit"), QApplication.closeAllWindows, "Ctrl+Q")
    samples = window.menuBar().addMenu(window.tr("&Samples"))
    for key, text, keys in (
        ("walk_up", window.tr("&Walk-up sample"), "Ctrl+Shift+W"),
        ("duplicate", window.tr("&Duplicate of a bottle"), None),
        ("fluid", window.tr("Sample of a &fluid"), None),
        ("check", window.tr("&Check sample"), None),
        ("reject", window.tr("&Rejected by the laboratory"), None),
        ("labels", window.tr("&Spare labels"), None),
    ):
        _add(samples, text, partial(acts.open_outside, key), keys)
    samples.addSeparator()
    _add(samples, window.tr("&All outside the plan"), partial(acts.open_outside, ""))
    programme = window.menuBar().addMenu(window.tr("&Programme"))
    for key, text, keys in (
        ("visits", window.tr("&Visits"), "Ctrl+Shift+P"),
        ("due", window.tr("&Due"), None),
        ("record", window.tr("&Record a visit"), "Ctrl+Shift+R"),
        ("bottles", window.tr("&Bottles out"), "Ctrl+Shift+B"),
        ("compliance", window.tr("&Compliance"), None),
        ("chance", window.tr("C&hance to catch"), None),
        ("crews", window.tr("Cre&ws and service days"), None),
    ):
        _add(programme, text, partial(acts.open_sampling, key), keys)
    view = window.menuBar().addMenu(window.tr("&View"))
    for number, title in enumerate(titles):
        _add(view, title, partial(acts.show_page, number), f"Ctrl+{number + 1}")
    _add(view, window.tr("&Find a machine"), acts.find_machine, "Ctrl+T")
    _add(view, window.tr("&Search everything"), acts.search, "Ctrl+K")
    view.addSeparator()
    _add_themes(window, view.addMenu(window.tr("&Theme")), acts, theme)
    view.addSeparator()
    _add(view, window.tr("&Refresh"), acts.refresh, "F5")
    help_menu = window.menuBar().addMenu(window.tr("&Help"))
    _add(help_menu, window.tr("&About fluiddesk"), lambda: AboutDialog(window).open())


def _add(
    menu: QMenu, text: str, act: Act, keys: QKeySequence.StandardKey | str | None = None
) -> QAction:
    action = menu.addAction(text)
    action.triggered.connect(lambda _checked: act())
    if keys is not None:
        action.setShortcut(QKeySequence(keys))
    return action


def _add_themes(window: QMainWindow, menu: QMenu, acts: MenuActs, theme: str) -> None:
    group = QActionGroup(window)
    words = (window.tr("&System"), window.tr("&Light"), window.tr("&Dark"))
    for choice, word in zip(ThemeChoice, words, strict=True):
        action = _add(menu, word, partial(acts.choose_theme, choice))
        action.setCheckable(True)
        action.setChecked(choice.value == theme)
        group.addAction(action)
