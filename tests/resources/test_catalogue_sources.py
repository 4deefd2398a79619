import tomllib

import pytest

from tests.resources.catalogue_rules import catalogue_files, figures_without_source

FILES = catalogue_files()


def complaints(toml: str) -> list[str]:
    return list(figures_without_source(tomllib.loads(toml), place="made up"))


def test_that_the_catalogue_is_complete():
    assert FILES.keys() >= {
        "analytes.toml",
        "compartment_kinds.toml",
        "machine_kinds.toml",
        "fluids.toml",
        "limit_sets/starter_engine.toml",
        "limit_sets/starter_hydraulic.toml",
        "limit_sets/starter_transmission.toml",
        "limit_sets/starter_gear.toml",
        "limit_sets/starter_coolant.toml",
        "limit_sets/starter_fuel.toml",
        "limit_sets/published.toml",
    }


@pytest.mark.parametrize("name", FILES)
def test_that_every_figure_stands_beside_its_source(name):
    assert list(figures_without_source(FILES[name], place=name)) == []


@pytest.mark.parametrize(
    "toml",
    [
        "[[limit]]\nwatch = 60",
        "[[limit]]\nwatch = 60\nsource = ''",
        "[[limit]]\nwatch = 60\nsource = 'everybody knows'",
        "[[limit]]\nwatch = 60\nsource = 'common practice'",
        "[[analyte]]\nsource = 'ISO 4406'\nplausible = { low = 0, high = 28 }",
        "[[analyte]]\n[analyte.usual.engine]\nlow = 5\nhigh = 60",
        "[[analyte]]\nsignificant_figures = 2",
        "[[reference]]\nvalues = { iron = 1 }",
        "[[kind]]\ncompartments = [{ kind = 'engine', capacity = { litres = 35 } }]",
        "[[kind]]\nhours = [50, 150]",
    ],
)
def test_that_a_figure_without_a_source_is_refused(toml):
    assert complaints(toml) != []


@pytest.mark.parametrize(
    "toml",
    [
        "[[limit]]\nwatch = 60\nsource = 'common practice, no source'",
        "[[limit]]\nwatch = 2.0\nsource = 'US Navy NAVEDTRA 14115'",
        "[[reference]]\nsource = 'common practice, no source'\nvalues = { iron = 1 }",
        "[[analyte]]\nnumber = 1\norder = 1\ndecimals = 0",
    ],
)
def test_that_a_figure_beside_a_source_is_accepted(toml):
    assert complaints(toml) == []


@pytest.mark.parametrize("name", [name for name in FILES if name.startswith("limit_sets/")])
def test_that_what_cannot_be_a_limit_yet_is_said_and_not_dropped(name):
    later = FILES[name]["later"]
    assert later
    assert all(entry["text"].strip() and entry["source"].strip() for entry in later)
