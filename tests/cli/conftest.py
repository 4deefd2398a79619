"""Runs commands as a shell would, in this process, and gives what they printed."""

import json
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, NoReturn

import pytest
from PySide6.QtWidgets import QApplication

from fluiddesk.cli.main import main
from tests.fleets import desk_home, fleet, fleet_file, sample_fleet_file, small_fleet_file

__all__ = ["desk_home", "fleet", "fleet_file", "sample_fleet_file", "small_fleet_file"]


@dataclass(frozen=True, kw_only=True)
class Answer:
    """What a command left with and printed."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        """The answer as JSON, by the letter of the standard."""
        return json.loads(self.out, parse_constant=_no_json)


def _no_json(word: str) -> NoReturn:
    raise AssertionError(f"{word} is no JSON")


Run = Callable[..., Answer]


@pytest.fixture(autouse=True)
def _one_application(qapp: QApplication) -> QApplication:
    """Commands that print take the application they find; one without windows would be in the way
    of every later test of a screen in the same process.
    """
    return qapp


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    """Run one command; every word may be anything that prints as one."""

    def one(*words: object) -> Answer:
        capsys.readouterr()
        code = main([str(word) for word in words])
        told = capsys.readouterr()
        return Answer(code=code, out=told.out, err=told.err)

    return one
