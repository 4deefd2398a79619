"""`reckon`: eight calculations without a database, their forms, and clear refusals."""

import pytest

from fluiddesk.cli.output import Exit
from fluiddesk.cli.reckoner import NAMES
from fluiddesk.services.reckoner.reckonings import RECKONINGS
from tests.cli.conftest import Run

KEYS = {
    "reckoning", "given", "answer", "value", "unit", "sentence", "values", "steps", "method",
    "source", "status", "cautions",
}  # fmt: skip


def test_that_the_command_names_every_reckoning() -> None:
    assert tuple(one.name for one in RECKONINGS) == NAMES


@pytest.mark.parametrize("one", RECKONINGS, ids=lambda one: one.name)
def test_that_each_answers_its_example_in_text_and_json(run: Run, one) -> None:
    words = [part for name, text in one.example().items() for part in (_option(name), text)]
    told = run("reckon", one.name, *words)
    assert (told.code, told.err) == (Exit.OK, "")
    lines = told.out.splitlines()
    assert any(line.startswith("Method: ") for line in lines)
    assert any(line.startswith("Source: ") for line in lines)
    answer = run("reckon", one.name, *words, "--format", "json").json
    assert set(answer) == KEYS
    assert answer["answer"] == lines[0]
    assert answer["given"] == one.example()
    assert answer["method"]


def _option(name: str) -> str:
    return f"--{name.replace('_', '-')}"


@pytest.mark.parametrize("name", NAMES)
def test_that_each_tells_what_it_takes(run: Run, name: str) -> None:
    told = run("reckon", name, "--help")
    assert told.code == Exit.OK
    assert "in order:" in told.out
    assert f"Example: fluiddesk reckon {name} --" in told.out


@pytest.mark.parametrize(
    ("words", "answer"),
    [
        # ASTM D2270 worked example; ISO 4406 table; ASTM D341, an oil of 32 and 5.4 mm2/s.
        (["vi", "73.30", "8.86"], "Viscosity index 92"),
        (["code", "1300", "320", "80"], "17/15/13"),
        (["code", "-", "320", "80"], "-/15/13"),
        (["viscosity", "80", "40", "32", "100", "5.4"], "8.533 mm2/s at 80 °C"),
        (["freeze", "50", "ethylene", "mass"], "-36.0 °C"),
        (["freeze", "--point", "-36", "--glycol", "ethylene", "--basis", "mass"], "50.0 %"),
        (["blend", "97", "110", "3", "2.6"], "90.87 mm2/s"),
        (["grade", "68"], "ISO VG 68"),
    ],
)
def test_that_figures_may_be_given_in_order(run: Run, words: list[str], answer: str) -> None:
    told = run("reckon", *words)
    assert told.code == Exit.OK
    assert told.out.splitlines()[0] == answer


@pytest.mark.parametrize(
    ("words", "code", "told"),
    [
        (["vi", "73.3"], Exit.USAGE, "Viscosity at 100 °C is missing"),
        (["vi", "73.3", ""], Exit.USAGE, "Viscosity at 100 °C is missing"),
        (["vi", "1", "2", "3"], Exit.USAGE, '"3" has no place'),
        (["vi", "73.3", "8.86", "--kv40", "70"], Exit.USAGE, "kv40 is given twice"),
        (["vi", "--kv50", "3"], Exit.USAGE, "unrecognized arguments"),
        (["mass"], Exit.USAGE, "invalid choice"),
        (["vi", "73.3", "nan"], Exit.BAD_DATA, '"nan" is no number'),
        (["vi", "-73.3", "8.86"], Exit.BAD_DATA, "-73.3 mm2/s must be above 0"),
        (["vi", "8.86", "73.3"], Exit.BAD_DATA, "look for swapped"),
        (["vi", "73.3 ppm", "8.86"], Exit.BAD_DATA, "is in a unit it is not measured in"),
        (["code", "80", "320", "1300"], Exit.BAD_DATA, "more than was counted at a smaller size"),
        (["freeze", "50", "ethylene", "weight"], Exit.BAD_DATA, "Choose mass or volume"),
    ],
)
def test_that_bad_input_leaves_with_its_code_and_a_remedy(run: Run, words, code, told) -> None:
    answer = run("reckon", *words)
    assert (answer.code, answer.out) == (code, "")
    assert told in answer.err
