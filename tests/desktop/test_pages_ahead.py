"""Pages are imported ahead, all of them, and quietly."""

import inspect
import re
import subprocess
import sys

from fluiddesk.desktop import main_window
from fluiddesk.desktop.background import Background
from fluiddesk.desktop.pages_ahead import LATER_PAGES


def test_that_every_page_the_window_makes_later_is_imported_ahead():
    source = inspect.getsource(main_window.MainWindow)
    named = re.findall(r"from fluiddesk\.desktop\.screens\.(\w+) import", source)
    assert set(named) == set(LATER_PAGES)


def test_that_pages_are_imported_off_the_screens_thread():
    code = (
        "import sys; from PySide6.QtWidgets import QApplication; app = QApplication([]); "
        "from fluiddesk.desktop.background import Background; "
        "from fluiddesk.desktop.pages_ahead import LATER_PAGES, import_pages; "
        "background = Background(); import_pages(background); assert not background.jobs; "
        "background.wait(); "
        "print(all(f'fluiddesk.desktop.screens.{one}' in sys.modules for one in LATER_PAGES))"
    )
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    assert done.stdout.strip() == "True"


def test_that_a_step_that_fails_leaves_the_others_to_be_done(qtbot, caplog):
    done = []
    background = Background()
    background.run_quietly([lambda: 1 / 0, lambda: done.append("second")])
    assert background.wait()
    assert done == ["second"]
    assert "work ahead failed" in caplog.text


def test_that_nothing_is_begun_when_the_window_is_closed(qtbot):
    done = []
    background = Background()
    background.close()
    background.run_quietly([lambda: done.append("late")])
    assert background.wait()
    assert done == []
