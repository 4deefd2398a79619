"""Imports the pages nobody has opened yet once the first one stands: a visit need not wait then."""

from functools import partial
from importlib import import_module
from typing import Final

from fluiddesk.desktop.background import Background

LATER_PAGES: Final = (
    "compartment_history",
    "sampling",
    "lab_intake",
    "register",
    "limit_rules",
    "reckoner",
)
"""Their modules, what is opened most first."""


def import_pages(background: Background) -> None:
    """Import every page's module on a thread that waits for all other work.

    A page is still made on the screen's thread when it is first shown; most of that time would
    else go into reading its modules.
    """
    background.run_quietly(
        [partial(import_module, f"fluiddesk.desktop.screens.{name}") for name in LATER_PAGES]
    )
