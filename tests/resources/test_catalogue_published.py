"""The catalogue against values published elsewhere."""

import re
import tomllib

import pytest

from tests.resources.catalogue_rules import CATALOGUE, catalogue_files

FILES = catalogue_files()
ANALYTES = {entry["code"]: entry for entry in FILES["analytes.toml"]["analyte"]}
FLUIDS = {
    entry["code"]: entry["reference"][-1]["values"] for entry in FILES["fluids.toml"]["fluid"]
}
GRADES = {
    entry["code"]: entry["viscosity_grade"]
    for entry in FILES["fluids.toml"]["fluid"]
    if entry["viscosity_grade"]
}
LIMIT_SETS = CATALOGUE / "limit_sets"

# ISO 3448, mm2/s at 40 C, minimum and maximum, both included (public reproduction).
ISO_3448 = {"46": (41.4, 50.6), "68": (61.2, 74.8)}
# SAE J300 (January 2015 table), mm2/s at 100 C, from and below (public reproduction).
SAE_J300 = {"30": (9.3, 12.5), "40": (12.5, 16.3), "50": (16.3, 21.9)}
SAE_J300_WINTER = {"10W": 4.1, "15W": 5.6}
# SAE J306 (February 2019), mm2/s at 100 C, from and below (public reproduction).
SAE_J306 = {"90": (13.5, 18.5), "140": (24.0, 32.5)}
SAE_J306_WINTER = {"80W": 8.5, "85W": 11.0}


@pytest.mark.parametrize("code", GRADES)
def test_that_a_fluid_new_from_the_drum_lies_in_its_viscosity_grade(code):
    at_40, at_100 = FLUIDS[code]["viscosity_40c"], FLUIDS[code]["viscosity_100c"]
    if vg := re.fullmatch(r"ISO VG (\d+)", GRADES[code]):
        low, high = ISO_3448[vg[1]]
        assert low <= at_40 <= high
        return
    parts = re.fullmatch(r"SAE (?:(\d+W))?-?(\d+)?", GRADES[code])
    assert parts
    winter, summer = parts.groups()
    gear = code.startswith("gear_oil")
    if winter:
        assert at_100 >= (SAE_J306_WINTER if gear else SAE_J300_WINTER)[winter]
    if summer:
        low, below = (SAE_J306 if gear else SAE_J300)[summer]
        assert low <= at_100 < below


def test_that_zinc_and_phosphorus_stand_in_the_ratio_of_an_anti_wear_oil():
    # Zinc dithiophosphate, one Zn to two P by molar mass: 65.38 / (2 x 30.974) = 1.055;
    # 0.8 to 1.6 for finished oils is common practice, no source.
    zinc_oils = [values for values in FLUIDS.values() if values.get("zinc", 0) > 100]
    assert len(zinc_oils) >= 6
    assert all(0.8 <= values["zinc"] / values["phosphorus"] <= 1.6 for values in zinc_oils)


@pytest.mark.parametrize(
    ("code", "level", "repeatability", "reproducibility"),
    [("copper", 10.0, 1.0, 2.4), ("lead", 10.0, 3.3, 6.9)],
)
def test_that_the_plasma_method_repeats_as_in_its_worked_values(
    code, level, repeatability, reproducibility
):
    # ASTM D5185, worked values at 10 mg/kg, shown with one decimal.
    for name, expected in (("repeatability", repeatability), ("reproducibility", reproducibility)):
        precision = ANALYTES[code][name]
        assert round(precision["a"] * level ** precision["b"], 1) == expected


@pytest.mark.parametrize(("size", "upper"), [(4, 2500), (6, 640), (14, 80)])
def test_that_the_usual_particle_counts_end_at_code_18_16_13(size, upper):
    # ISO 4406:1999 table, upper edges of codes 18, 16 and 13, per mL (public reproduction).
    assert ANALYTES[f"particles_{size}um"]["usual"]["hydraulic"]["high"] == upper


def test_that_the_coolants_freeze_where_half_ethylene_glycol_does():
    # ASHRAE Fundamentals 2001, ethylene glycol by volume: -37.1 C at 50 %; 36.4 by
    # ASTM D3306 is from memory, unconfirmed. Volume and mass differ by about 1.1 C.
    for code in ("coolant_conventional_50", "coolant_organic_50"):
        assert FLUIDS[code]["coolant_glycol"] == 50
        assert FLUIDS[code]["freeze_point"] == pytest.approx(-37.1, abs=1.2)


@pytest.mark.parametrize(
    ("analyte", "direction", "limit"),
    [
        ("fuel_flash_point", "down", 52),
        ("fuel_viscosity_40c", "down", 1.9),
        ("fuel_viscosity_40c", "up", 4.1),
        ("fuel_water_sediment", "up", 0.05),
        ("fuel_ash", "up", 0.01),
        ("fuel_carbon_residue", "up", 0.35),
        ("fuel_sulfur", "up", 15),
        ("cetane_number", "down", 40),
        ("distilled_90", "down", 282),
        ("distilled_90", "up", 338),
        ("copper_strip", "up", 3),
    ],
)
def test_that_fuel_is_held_to_the_published_specification(analyte, direction, limit):
    # Code of Maryland Regulations 03.03.05.02 (diesel fuel No. 2, figures under ASTM D975);
    # a fuel exactly on its limit passes.
    rows = FILES["limit_sets/starter_fuel.toml"]["limit"]
    [row] = [r for r in rows if (r["analyte"], r["direction"]) == (analyte, direction)]
    assert (row["act"], row["boundary"]) == (limit, "beyond")


def test_that_the_published_bands_are_kept_apart_from_starting_limits():
    purposes = {
        path.stem: tomllib.loads(path.read_text(encoding="utf-8"))["limit_set"]["purpose"]
        for path in LIMIT_SETS.glob("*.toml")
    }
    assert purposes.pop("published") == "published example"
    assert set(purposes.values()) == {"starter"}


@pytest.mark.parametrize(
    ("analyte", "steps", "boundary"),
    [
        # US Navy NAVEDTRA 14115: fuel 2.0 and 5.0 %; sediment and water above 0.4 %, sediment
        # above 0.1 %. US Army TM 38-301-4: iron 124, 171, 216 mg/kg in a two-stroke diesel.
        ("fuel", {"act": 2.0, "urgent": 5.0}, "at"),
        ("bottom_sediment_water", {"urgent": 0.4}, "beyond"),
        ("bottom_sediment", {"urgent": 0.1}, "beyond"),
        ("iron", {"watch": 124, "act": 171, "urgent": 216}, "at"),
    ],
)
def test_that_the_published_bands_are_those_of_the_manuals(analyte, steps, boundary):
    rows = FILES["limit_sets/published.toml"]["limit"]
    [row] = [r for r in rows if (r["analyte"], r["kind"]) == (analyte, "level")]
    found = {step: row[step] for step in ("watch", "act", "urgent") if step in row}
    assert (found, row["boundary"]) == (steps, boundary)
