from datetime import date

from fluiddesk.domain.fluids.product import FluidProduct, NewFluidReference


def reference(day, iron):
    return NewFluidReference(valid_from=day, values={"iron": iron}, source="invented for a test")


FLUID = FluidProduct(
    code="oil",
    name="Oil",
    fluid_class="engine_oil",
    viscosity_grade="SAE 15W-40",
    density_kg_per_l=0.87,
    references=(reference(date(2025, 1, 1), 2.0), reference(date(2024, 1, 1), 1.0)),
)


def test_that_the_newest_reference_valid_by_a_day_is_in_force():
    found = [FLUID.reference_on(date(2024, 12, 31)), FLUID.reference_on(date(2025, 1, 1))]
    assert [one and one.values["iron"] for one in found] == [1.0, 2.0]


def test_that_before_the_first_reference_none_is_in_force():
    assert FLUID.reference_on(date(2023, 12, 31)) is None
