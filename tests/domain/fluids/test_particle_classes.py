"""Cleanliness classes: published examples, and the tables against each other."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.fluids import particle_classes
from fluiddesk.domain.fluids.particle_code import (
    ParticleCountError,
    as4059_classes,
    nas1638_class,
    navy_class,
)
from tests.domain.reference.reading import row_name, worked_examples

NAS_CLASSES = ["00", *map(str, range(13)), ">12"]
BANDS = st.lists(st.floats(0, 2e6), min_size=5, max_size=5)


def answer(method, given_text):
    parts = given_text.split("/")
    if method == "as4059_limit":
        return "/".join(str(particle_classes.as4059_limit(part)) for part in parts)
    counts = [float(part) for part in parts]
    if method == "as4059_classes":
        return "/".join(as4059_classes(counts))
    return {"nas1638_class": nas1638_class, "navy_class": navy_class}[method](counts)


@pytest.mark.parametrize("row", worked_examples("particle_classes"), ids=row_name)
def test_that_counts_get_the_published_class(row):
    assert answer(row["method"], row["counts_per_100ml"]) == row["expected"]


def test_that_every_printed_figure_of_the_as4059_examples_is_its_limit_to_three_figures():
    # Supplier reproduction of the standard's examples: 6B 19 500; 7B 38 900, 6C 3 460, 5D 306.
    for label, printed in (("6B", 19_500), ("7B", 38_900), ("6C", 3_460), ("5D", 306)):
        assert float(f"{particle_classes.as4059_limit(label):.3g}") == printed


def test_that_sums_of_nas_1638_bands_are_the_as4059_limits_in_every_class():
    # The identity finds the misprints that reprints of NAS 1638 carry.
    sums = np.cumsum(particle_classes._NAS1638[:, ::-1], axis=1)[:, ::-1]
    assert sums.tolist() == particle_classes._AS4059[1:, 1:].tolist()


def test_that_navy_totals_are_the_printed_ones():
    # US Navy NAVEDTRA 14315, table 8-1, last row.
    printed = [3_480, 6_181, 12_821, 30_261, 44_456, 112_001, 177_592]
    assert particle_classes._NAVY.sum(axis=1).tolist() == printed


def test_that_a_count_on_every_limit_is_still_in_its_class():
    for place, limits in enumerate(particle_classes._NAS1638):
        assert nas1638_class(limits.tolist()) == NAS_CLASSES[place]
        assert nas1638_class((limits + np.eye(5)[4]).tolist()) != NAS_CLASSES[place]
    for place, limits in enumerate(particle_classes._NAVY):
        assert navy_class(limits.tolist()) == str(place)
    assert nas1638_class([2e6, 0, 0, 0, 0]) == ">12"
    assert navy_class([2e6, 0, 0, 0, 0]) == ">6"


@given(bands=BANDS, more=BANDS)
def test_that_more_particles_never_lower_a_class(bands, more):
    dirtier = [a + b for a, b in zip(bands, more, strict=True)]
    places = [NAS_CLASSES.index(nas1638_class(counts)) for counts in (bands, dirtier)]
    assert places == sorted(places)


@given(rows=st.lists(BANDS, min_size=1, max_size=8))
def test_that_columns_are_classed_like_their_rows(rows):
    bands = np.array(rows)
    assert nas1638_class(bands).tolist() == [nas1638_class(row) for row in rows]
    assert navy_class(bands).tolist() == [navy_class(row) for row in rows]
    totals = np.cumsum(bands[:, ::-1], axis=1)[:, ::-1]
    assert as4059_classes(totals).tolist() == [as4059_classes(row) for row in totals.tolist()]


def test_that_a_size_not_counted_is_left_out():
    assert as4059_classes([None, 18_000, 3_000]) == ["6B", "6C"]
    assert as4059_classes([0, 0]) == ["000A", "000B"]


@pytest.mark.parametrize("counts", [[], [None], [9, 8, 7, 6, 5, 4, 3]])
def test_that_a_wrong_number_of_sizes_is_refused(counts):
    with pytest.raises(ParticleCountError, match="six sizes"):
        as4059_classes(counts)


@pytest.mark.parametrize("counts", [[1, 2, 3, 4], [[1, 2, 3, 4]], 5])
def test_that_a_wrong_number_of_bands_is_refused(counts):
    with pytest.raises(ParticleCountError, match="five size bands"):
        nas1638_class(counts)


@pytest.mark.parametrize("bad", [-1.0, float("nan"), float("inf")])
def test_that_a_count_that_cannot_be_is_refused(bad):
    with pytest.raises(ParticleCountError, match="per 100 mL"):
        as4059_classes([bad, 0])
    with pytest.raises(ParticleCountError, match="place 5"):
        navy_class([1, 1, 1, 1, bad])


def test_that_cumulative_counts_rising_with_size_are_refused():
    with pytest.raises(ParticleCountError, match="101 is more than was counted at a smaller size"):
        as4059_classes([100, 101])


@pytest.mark.parametrize("label", ["", "6", "13B", "6G", "B"])
def test_that_a_class_that_does_not_exist_is_refused(label):
    with pytest.raises(ParticleCountError, match="is no AS4059 class"):
        particle_classes.as4059_limit(label)
