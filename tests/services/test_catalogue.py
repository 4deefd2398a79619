"""The catalogue files as values."""

import shutil
from datetime import date

import pytest

from fluiddesk import assets
from fluiddesk.domain.analytes import AnalyteFamily
from fluiddesk.domain.limits.limit_set import LimitError, LimitKind, Scope
from fluiddesk.services.catalogue import Catalogue, load_catalogue

FILES = {
    "analytes": """
[[analyte]]
number = 1
code = "iron"
name = "Iron"
symbol = "Fe"
family = "wear"
unit = "mg/kg"
decimals = 0
harmful = "up"
method = "a method"
order = 2
significant_figures = 2
synonyms = ["fe"]
plausible = { low = 0, high = 10000, source = "a" }
usual.engine = { low = 5, high = 60, source = "b" }
detection_limit = { value = 1, source = "c" }
repeatability = { form = "power", a = 0.13, b = 0.8, source = "d" }
reproducibility = { form = "relative", a = 1, source = "e" }

[[analyte]]
number = 7
code = "water_crackle"
name = "Water, crackle"
symbol = "Crackle"
family = "contamination"
unit = "absent/present"
decimals = 0
harmful = "up"
method = "hot plate"
order = 1
safety = true
""",
    "compartment_kinds": """
[[kind]]
code = "final_drive"
name = "Final drive"
short = "FD"
group = "gear"
order = 5
default_interval = { hours = 500, source = "a" }
default_capacity = { litres = 30, source = "a" }
residue_share = { value = 0.1, source = "a" }

[[kind]]
code = "engine"
name = "Diesel engine"
short = "Eng"
group = "engine"
order = 1
default_interval = { hours = 250, days = 90, source = "a" }
default_capacity = { litres = 40, source = "a" }
residue_share = { value = 0.15, source = "a" }
sampling_point = "valve"
""",
    "machine_kinds": """
[[kind]]
code = "haul_truck"
name = "Haul truck"
daily_hours = { value = 12, source = "a" }
[[kind.compartments]]
kind = "engine"
capacity = { litres = 60, source = "a" }
[[kind.compartments]]
kind = "final_drive"
position = "left"

[[kind]]
code = "grader"
name = "Grader"
compartments = []
""",
    "fluids": """
[[fluid]]
code = "oil"
name = "Oil"
fluid_class = "engine_oil"
density_kg_per_l = { value = 0.87, source = "a" }
[[fluid.reference]]
valid_from = 2020-01-01
values = { iron = 1 }
source = "a"
[[fluid.reference]]
valid_from = "2024-01-01"
values = { iron = 2 }
source = "b"

[[fluid]]
code = "bare"
name = "Bare"
fluid_class = "engine_oil"
viscosity_grade = "SAE 30"
density_kg_per_l = { value = 0.88, source = "a" }
""",
}
STARTER = """
[[limit]]
compartment_kinds = ["engine", "final_drive"]
analyte = "iron"
kind = "level"
direction = "up"
watch = 60
urgent = 150
source = "a"

[[limit]]
compartment_kinds = ["engine"]
fluid_class = "engine_oil"
analyte = "iron"
kind = "change"
direction = "up"
act = 100
source = "b"
boundary = "beyond"
group = "wear"
act_needs = 2
urgent_needs = 3
note = "c"
"""


@pytest.fixture
def folder(tmp_path):
    for name, text in FILES.items():
        (tmp_path / f"{name}.toml").write_text(text, encoding="utf-8")
    sets = tmp_path / "limit_sets"
    sets.mkdir()
    (sets / "starter_all.toml").write_text(STARTER, encoding="utf-8")
    (sets / "published.toml").write_text("not for a fleet", encoding="utf-8")
    return tmp_path


@pytest.fixture
def catalogue(folder) -> Catalogue:
    return load_catalogue(folder)


def test_that_an_analyte_comes_with_everything_the_file_says(catalogue):
    iron = catalogue.analytes["iron"]
    assert (iron.number, iron.symbol, iron.family) == (1, "Fe", AnalyteFamily.WEAR)
    assert (iron.plausible.low, iron.plausible.high, iron.plausible.source) == (0, 10_000, "a")
    assert (iron.usual["engine"].high, iron.detection_limit, iron.detection_source) == (60, 1, "c")
    assert (iron.repeatability.b, iron.reproducibility.b) == (0.8, 1.0)
    assert (iron.significant_figures, iron.synonyms, iron.is_safety_test) == (2, ("fe",), False)


def test_that_an_analyte_without_figures_has_none(catalogue):
    crackle = catalogue.analytes["water_crackle"]
    assert crackle.is_safety_test
    assert crackle.is_presence_test
    assert (crackle.plausible, crackle.usual, crackle.detection_limit) == (None, {}, None)
    assert (crackle.repeatability, crackle.reproducibility) == (None, None)


def test_that_analytes_are_found_by_the_number_of_packed_history(catalogue):
    assert {number: one.code for number, one in catalogue.by_number.items()} == {
        1: "iron",
        7: "water_crackle",
    }


def test_that_compartment_kinds_stand_along_the_power_path(catalogue):
    assert list(catalogue.compartment_kinds) == ["engine", "final_drive"]
    engine, drive = catalogue.compartment_kinds.values()
    assert (engine.interval_hours, engine.interval_days, engine.capacity_l) == (250, 90, 40)
    assert (drive.interval_days, drive.residue_share, drive.sampling_point) == (None, 0.1, "")


def test_that_a_machine_kind_lists_its_boxes(catalogue):
    truck = catalogue.machine_kinds["haul_truck"]
    assert truck.boxes == (("engine", ""), ("final_drive", "left"))
    assert (truck.capacities_l, truck.hours_per_day) == ((60.0, None), 12.0)
    assert catalogue.machine_kinds["grader"].hours_per_day == 8.0


def test_that_a_fluid_keeps_its_references_by_day(catalogue):
    oil = catalogue.fluids["oil"]
    assert [one.valid_from for one in oil.references] == [date(2020, 1, 1), date(2024, 1, 1)]
    assert oil.reference_on(date(2023, 6, 1)).values == {"iron": 1.0}
    assert (oil.viscosity_grade, catalogue.fluids["bare"].references) == ("", ())


def test_that_a_starter_limit_stands_once_for_each_compartment_kind(catalogue):
    first, second, third = catalogue.starter_limits
    assert [one.scope for one in (first, second)] == [
        Scope(compartment_kind="engine"),
        Scope(compartment_kind="final_drive"),
    ]
    assert (first.bounds(), first.boundary, first.set_by) == ((60, None, 150), "at", "starter set")
    assert third.scope == Scope(compartment_kind="engine", fluid_class="engine_oil")
    assert (third.kind, third.boundary, third.note) == (LimitKind.CHANGE, "beyond", "c")
    assert (third.group, third.act_needs, third.urgent_needs) == ("wear", 2, 3)


def test_that_a_starter_limit_out_of_order_is_refused(folder):
    wrong = STARTER.replace("watch = 60", "watch = 600")
    (folder / "limit_sets" / "starter_all.toml").write_text(wrong, encoding="utf-8")
    with pytest.raises(LimitError, match="read 600 / - / 150"):
        _ = load_catalogue(folder).starter_limits


def test_that_a_box_is_named_by_kind_and_position(catalogue):
    assert catalogue.box_name("final_drive", "rear_left") == "Final drive, rear left"
    assert catalogue.box_name("engine", "") == "Diesel engine"
    assert catalogue.machine_kind_name("haul_truck") == "Haul truck"


def test_that_a_kind_the_catalogue_lacks_is_named_by_its_code(catalogue):
    assert catalogue.kind_name("swing_drive") == "Swing drive"
    assert catalogue.machine_kind_name("drill_rig") == "Drill rig"


def test_that_the_programs_own_catalogue_is_read_by_default(tmp_path):
    copy = tmp_path / "copy"
    shutil.copytree(assets.resource("catalogue"), copy)
    own = load_catalogue()
    copied = load_catalogue(copy)
    for part in ("analytes", "compartment_kinds", "machine_kinds", "fluids", "companions"):
        assert getattr(own, part) == getattr(copied, part)
    assert {limit.analyte for limit in own.starter_limits} <= set(own.analytes)
    assert {limit.scope.compartment_kind for limit in own.starter_limits} <= set(
        own.compartment_kinds
    )
    assert {kind for one in own.machine_kinds.values() for kind, _ in one.boxes} <= set(
        own.compartment_kinds
    )
