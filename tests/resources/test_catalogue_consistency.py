from typing import Any

import pytest

from tests.resources.catalogue_rules import (
    FLUID_CLASSES_OF_GROUP,
    catalogue_files,
    limit_complaints,
    repeated,
    steps_of,
    too_close_steps,
)

FILES = catalogue_files()
ANALYTES = {entry["code"]: entry for entry in FILES["analytes.toml"]["analyte"]}
KINDS = {entry["code"]: entry for entry in FILES["compartment_kinds.toml"]["kind"]}
MACHINES = FILES["machine_kinds.toml"]["kind"]
FLUIDS = FILES["fluids.toml"]["fluid"]
LIMITS = [
    (name, limit)
    for name, file in FILES.items()
    if name.startswith("limit_sets/")
    for limit in file["limit"]
]
STARTERS = [(name, limit) for name, limit in LIMITS if "starter" in name]
NUMBERS_OF_FAMILIES = {
    "wear": range(1, 80),
    "contamination": range(1, 80),
    "additive": range(1, 80),
    "fluid_condition": range(1, 80),
    "coolant": range(80, 110),
    "fuel": range(110, 140),
}


@pytest.mark.parametrize("key", ["number", "code", "symbol", "name"])
def test_that_no_two_analytes_share_a_number_or_a_name(key):
    assert repeated(entry[key] for entry in FILES["analytes.toml"]["analyte"]) == []


def test_that_a_repeated_number_would_be_seen():
    assert repeated([1, 2, 1]) == [1]


def test_that_every_analyte_has_a_number_of_its_family_and_an_order_of_its_own():
    for entry in ANALYTES.values():
        assert entry["number"] in NUMBERS_OF_FAMILIES[entry["family"]], entry["code"]
    assert repeated((entry["family"], entry["order"]) for entry in ANALYTES.values()) == []


def test_that_a_column_head_suggests_one_analyte_only():
    assert repeated(word for entry in ANALYTES.values() for word in entry["synonyms"]) == []
    for entry in ANALYTES.values():
        assert entry["synonyms"]
        assert all(word == word.lower().strip() for word in entry["synonyms"])


def test_that_a_usual_value_is_always_a_plausible_one():
    for entry in ANALYTES.values():
        plausible = entry.get("plausible")
        for group, usual in entry.get("usual", {}).items():
            assert group in FLUID_CLASSES_OF_GROUP
            assert usual["low"] <= usual["high"]
            if plausible:
                assert plausible["low"] <= usual["low"], entry["code"]
                assert usual["high"] <= plausible["high"], entry["code"]


def test_that_the_tests_that_must_not_be_missed_are_marked():
    marked = {code for code, entry in ANALYTES.items() if entry.get("safety")}
    assert marked == {
        "glycol", "glycol_test", "water", "water_crackle", "fuel", "viscosity_40c",
        "viscosity_100c",
    }  # fmt: skip


@pytest.mark.parametrize(
    "entries", [KINDS.values(), MACHINES, FLUIDS], ids=["box", "machine", "fluid"]
)
def test_that_no_code_is_used_twice(entries):
    assert repeated(entry["code"] for entry in entries) == []
    assert repeated(entry["name"] for entry in entries) == []


def test_that_compartment_kinds_stand_in_one_order_under_short_heads():
    assert repeated(entry["order"] for entry in KINDS.values()) == []
    assert repeated(entry["short"] for entry in KINDS.values()) == []
    for entry in KINDS.values():
        assert len(entry["short"]) <= 8
        assert entry["group"] in FLUID_CLASSES_OF_GROUP
        assert entry["sampling_point"] in {"live valve", "tube"}
        assert 0 < entry["residue_share"]["value"] < 1


@pytest.mark.parametrize("machine", MACHINES, ids=lambda machine: machine["code"])
def test_that_a_machine_has_each_box_once_and_only_boxes_that_are_known(machine):
    boxes = [(box["kind"], box["position"]) for box in machine["compartments"]]
    assert repeated(boxes) == []
    for kind, position in boxes:
        assert position in KINDS[kind]["positions"] or position == ""


def test_that_fluid_references_name_known_analytes_and_plausible_values():
    for fluid in FLUIDS:
        for reference in fluid["reference"]:
            assert reference["values"].keys() <= ANALYTES.keys(), fluid["code"]
            for code, value in reference["values"].items():
                plausible = ANALYTES[code].get("plausible")
                if plausible:
                    assert plausible["low"] <= value <= plausible["high"], (fluid["code"], code)


@pytest.mark.parametrize(("name", "limit"), LIMITS)
def test_that_a_limit_is_well_formed(name, limit):
    known = {"analytes": set(ANALYTES), "kinds": set(KINDS)}
    assert list(limit_complaints(limit, **known)) == [], name


GOOD: dict[str, Any] = {
    "analyte": "iron",
    "compartment_kinds": ["engine"],
    "kind": "level",
    "direction": "up",
    "watch": 60,
    "act": 100,
    "urgent": 150,
}


@pytest.mark.parametrize(
    "fault",
    [
        {"analyte": "unobtainium"},
        {"compartment_kinds": ["cupboard"]},
        {"compartment_kinds": []},
        {"kind": "code_steps"},
        {"kind": "companion_ratio"},
        {"companion": "unobtainium"},
        {"direction": "both"},
        {"boundary": "near"},
        {"direction": "down"},
        {"act": 60},
        {"act": 200},
        {"act_needs": 2},
    ],
)
def test_that_a_malformed_limit_is_refused(fault):
    known = {"analytes": set(ANALYTES), "kinds": set(KINDS)}
    assert list(limit_complaints(GOOD, **known)) == []
    assert list(limit_complaints(GOOD | fault, **known)) != []


def test_that_no_two_starter_limits_compete_for_one_compartment():
    rows = [
        (kind, limit["analyte"], limit["kind"], limit["direction"], fluid_class)
        for _, limit in STARTERS
        for kind in limit["compartment_kinds"]
        for group in [KINDS[kind]["group"]]
        for fluid_class in FLUID_CLASSES_OF_GROUP[group]
        if limit.get("fluid_class", fluid_class) == fluid_class
    ]
    assert repeated(rows) == []


def test_that_no_compartment_kind_is_left_without_starter_limits():
    assert {kind for _, limit in STARTERS for kind in limit["compartment_kinds"]} == set(KINDS)


def test_that_a_limit_holds_for_a_fluid_class_its_compartments_can_carry():
    for name, limit in STARTERS:
        for kind in limit["compartment_kinds"]:
            classes = FLUID_CLASSES_OF_GROUP[KINDS[kind]["group"]]
            assert limit.get("fluid_class", min(classes)) in classes, name


def references_for(limit: dict[str, Any]) -> dict[str, float]:
    """New-fluid values of the fluids the compartments of a limit can carry, by fluid."""
    groups = {KINDS[kind]["group"] for kind in limit["compartment_kinds"]}
    carried = set().union(*(FLUID_CLASSES_OF_GROUP[group] for group in groups))
    carried &= {limit.get("fluid_class", name) for name in carried}
    return {
        fluid["code"]: reference["values"][limit["analyte"]]
        for fluid in FLUIDS
        for reference in fluid["reference"]
        if fluid["fluid_class"] in carried and limit["analyte"] in reference["values"]
    }


CHANGES = [(name, limit) for name, limit in STARTERS if limit["kind"].startswith("change")]


@pytest.mark.parametrize(("name", "limit"), CHANGES)
def test_that_a_change_has_a_new_fluid_to_be_counted_from(name, limit):
    assert references_for(limit), (name, limit["analyte"])


IN_OIL = [
    (name, limit)
    for name, limit in STARTERS
    # The precision of the oil methods says nothing about coolant and fuel.
    if not {KINDS[kind]["group"] for kind in limit["compartment_kinds"]} & {"coolant", "fuel"}
    and limit["kind"] in {"level", "change", "change_percent"}
    and "repeatability" in ANALYTES[limit["analyte"]]
]


@pytest.mark.parametrize(("name", "limit"), IN_OIL)
def test_that_neighbouring_limits_exceed_repeatability_or_say_why_not(name, limit):
    # ASTM D7669: the distance between limits should exceed the method's repeatability.
    close = too_close_steps(
        limit,
        precision=ANALYTES[limit["analyte"]]["repeatability"],
        references=list(references_for(limit).values()),
    )
    assert bool(close) == bool(limit.get("repeatability_exception")), (name, close)


def test_that_limits_closer_than_repeatability_are_seen():
    # ASTM D5185 for lead at 10 mg/kg: 1.6 x 10^0.32 = 3.3, a published worked value.
    lead = ANALYTES["lead"]["repeatability"]
    close = {"kind": "level", "watch": 7, "act": 10}
    apart = {"kind": "level", "watch": 6, "act": 10}
    counted_from_new = {"kind": "change", "watch": 2, "act": 5}
    assert too_close_steps(close, precision=lead, references=[]) == ["7 to 10 is within 3.34"]
    assert too_close_steps(apart, precision=lead, references=[]) == []
    assert too_close_steps(counted_from_new, precision=lead, references=[5.0]) != []


def test_that_every_limit_can_be_told_apart_at_the_places_its_method_shows():
    for name, limit in STARTERS:
        if limit["kind"] == "level":
            places = ANALYTES[limit["analyte"]]["decimals"]
            assert steps_of(limit) == [round(step, places) for step in steps_of(limit)], name
