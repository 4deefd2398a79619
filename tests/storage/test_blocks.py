import struct

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from fluiddesk.domain.samples import SampleColumns
from fluiddesk.storage import BlockError, pack, unpack, unpack_fleet

NUMBERS = st.lists(st.integers(0, 65_535), max_size=6, unique=True).map(sorted)
HEADER_OF_TWO = b"FDH1" + struct.pack("<HHHH", 1, 2, 3, 9) + bytes(4)


@st.composite
def histories(draw: st.DrawFn, numbers: list[int] | None = None) -> SampleColumns:
    analytes = draw(NUMBERS) if numbers is None else numbers
    n, m = draw(st.integers(0, 5)), len(analytes)

    def column(kind: type, shape: tuple[int, ...] = (n,)) -> np.ndarray:
        return draw(hnp.arrays(kind, shape))

    return SampleColumns(
        analytes=tuple(analytes),
        compartment=np.zeros(n, dtype=np.int32),
        sample_id=column(np.uint8, (n, 16)),
        taken_on=column(np.int32),
        hours=column(np.float64),
        fluid_hours=column(np.float64),
        fill=column(np.int32),
        trust=column(np.int8),
        severity=column(np.int8),
        digest=column(np.uint64),
        reference=column(np.int16),
        values=column(np.float64, (n, m)),
        signs=column(np.uint8, (n, m)),
    )


def assert_same(one: SampleColumns, other: SampleColumns) -> None:
    assert one.analytes == other.analytes
    for name in SampleColumns.__dataclass_fields__:
        if name != "analytes":
            np.testing.assert_array_equal(getattr(one, name), getattr(other, name), err_msg=name)
            assert getattr(one, name).dtype == getattr(other, name).dtype, name


@given(histories())
def test_that_unpacking_gives_back_what_was_packed(history: SampleColumns) -> None:
    assert_same(unpack(pack(history), 0), history)


@given(st.lists(NUMBERS, min_size=1, max_size=3, unique_by=tuple).flatmap(
    lambda choices: st.lists(st.sampled_from(choices).flatmap(histories), max_size=6)
))  # fmt: skip
def test_that_a_fleet_unpacks_to_the_same_samples_as_its_blocks_one_by_one(
    fleet: list[SampleColumns],
) -> None:
    blobs = [pack(history) for history in fleet]
    groups = unpack_fleet(blobs)
    assert len(groups) == len({history.analytes for history in fleet})
    for group in groups:
        mine = [place for place, one in enumerate(fleet) if one.analytes == group.analytes]
        singly = [unpack(blobs[place], place) for place in mine]
        for name in SampleColumns.__dataclass_fields__:
            if name != "analytes":
                joined = np.concatenate([getattr(one, name) for one in singly])
                np.testing.assert_array_equal(getattr(group, name), joined)


def test_that_a_block_is_the_published_header_and_records_of_whole_eights() -> None:
    one = SampleColumns(
        analytes=(3, 9),
        compartment=np.zeros(1, dtype=np.int32),
        sample_id=np.arange(16, dtype=np.uint8).reshape(1, 16),
        taken_on=np.array([7], dtype=np.int32),
        hours=np.array([1.5]),
        fluid_hours=np.array([2.5]),
        fill=np.array([8], dtype=np.int32),
        trust=np.array([1], dtype=np.int8),
        severity=np.array([-1], dtype=np.int8),
        digest=np.array([2**63], dtype=np.uint64),
        reference=np.array([-2], dtype=np.int16),
        values=np.array([[10.0, 20.0]]),
        signs=np.array([[0, 1]], dtype=np.uint8),
    )
    record = bytes(range(16)) + struct.pack(
        "<iiddQhbb4xdd2B6x", 7, 8, 1.5, 2.5, 2**63, -2, 1, -1, 10.0, 20.0, 0, 1
    )
    assert pack(one) == HEADER_OF_TWO + record


@pytest.mark.parametrize(
    "blob",
    [
        b"",
        b"FDH1",
        b"XXXX" + HEADER_OF_TWO[4:],
        HEADER_OF_TWO[:10],
        HEADER_OF_TWO + b"half a record",
        b"FDH1\x02\x00" + HEADER_OF_TWO[6:],
    ],
    ids=["nothing", "start", "other letters", "cut header", "cut record", "later format"],
)
def test_that_bytes_which_are_no_block_are_refused(blob: bytes) -> None:
    with pytest.raises(BlockError, match="damaged"):
        unpack(blob, 0)
    with pytest.raises(BlockError, match="damaged"):
        unpack_fleet([blob])


def test_that_analytes_out_of_order_are_not_packed() -> None:
    empty = unpack(HEADER_OF_TWO, 0)
    swapped = SampleColumns(
        **{name: getattr(empty, name) for name in SampleColumns.__dataclass_fields__}
        | {"analytes": (9, 3)}
    )
    with pytest.raises(ValueError, match="must rise"):
        pack(swapped)
