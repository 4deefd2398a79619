"""One compartment's history as one run of bytes, for reading a whole fleet at once.

A block is a header and n records of equal length, all little-endian. Header: the letters FDH1,
the format's version, the number m of analytes, their m numbers, filled up with zeros to a multiple
of 8 bytes. A record holds one sample; its fields stand in ``_record``.
"""

import struct
from collections.abc import Iterable
from functools import lru_cache
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.samples import SampleColumns

MAGIC: Final = b"FDH1"
FORMAT: Final = 1
_START: Final = struct.Struct("<4sHH")
_FIXED_BYTES: Final = 56


class BlockError(OperatorError):
    """A packed history cannot be read; it can be built anew from the readings."""


def pack(columns: SampleColumns) -> bytes:
    """The samples of one compartment as bytes, in the order given.

    Raises:
        ValueError: when the analyte numbers do not rise.
    """
    numbers = columns.analytes
    if list(numbers) != sorted(set(numbers)):
        raise ValueError(f"analyte numbers must rise: {numbers}")
    records = np.zeros(len(columns), dtype=_record(len(numbers)))
    records["id"] = columns.sample_id
    for field in _PLAIN_FIELDS:
        records[field] = getattr(columns, field)
    records["values"] = columns.values
    records["signs"] = columns.signs
    return _header(numbers) + records.tobytes()


def unpack(blob: bytes, compartment_index: int) -> SampleColumns:
    """The samples of one block, all with the same index of their compartment.

    Raises:
        BlockError: when the bytes are no block of this format.
    """
    numbers, start = _read_header(blob)
    records = _records(numbers, memoryview(blob)[start:])
    index = np.full(len(records), compartment_index, dtype=np.int32)
    return _columns(numbers, records, index)


def unpack_fleet(blobs: Iterable[bytes]) -> list[SampleColumns]:
    """The samples of many blocks, one group for each set of analytes.

    A sample's ``compartment`` is the place of its block in ``blobs``. Groups come in the order in
    which their first block comes, samples in the order of their blocks. A block is let go of when
    it has been copied: what gives ``blobs`` should not keep them, since a fleet is large.

    Raises:
        BlockError: when one of them is no block of this format.
    """
    groups: dict[tuple[int, ...], tuple[list[int], list[memoryview]]] = {}
    for place, blob in enumerate(blobs):
        numbers, start = _read_header(blob)
        places, bodies = groups.setdefault(numbers, ([], []))
        places.append(place)
        bodies.append(memoryview(blob)[start:])
    return [_group(numbers, places, bodies) for numbers, (places, bodies) in groups.items()]


def _group(numbers: tuple[int, ...], places: list[int], bodies: list[memoryview]) -> SampleColumns:
    size = _record(len(numbers)).itemsize
    lengths = np.array([len(body) for body in bodies], dtype=np.int64)
    if (lengths % size).any():
        raise BlockError(_DAMAGED)
    records = _records(numbers, b"".join(bodies))
    bodies.clear()
    index = np.repeat(np.array(places, dtype=np.int32), lengths // size)
    return _columns(numbers, records, index)


@lru_cache(maxsize=256)
def _record(analytes: int) -> np.dtype[Any]:
    values_end = _FIXED_BYTES + 8 * analytes
    return np.dtype(
        {
            "names": ["id", *_PLAIN_FIELDS, "values", "signs"],
            "formats": [
                ("u1", (16,)),
                "<i4",
                "<i4",
                "<f8",
                "<f8",
                "<u8",
                "<i2",
                "i1",
                "i1",
                ("<f8", (analytes,)),
                ("u1", (analytes,)),
            ],
            "offsets": [0, 16, 20, 24, 32, 40, 48, 50, 51, _FIXED_BYTES, values_end],
            "itemsize": _up_to_eight(values_end + analytes),
        }
    )


_PLAIN_FIELDS: Final = (
    "taken_on",
    "fill",
    "hours",
    "fluid_hours",
    "digest",
    "reference",
    "trust",
    "severity",
)
_DAMAGED: Final = (
    "The packed history of a compartment is damaged. Run `fluiddesk database check`, which builds "
    "it anew from the readings and compares."
)


@lru_cache(maxsize=4096)
def _header(numbers: tuple[int, ...]) -> bytes:
    count = len(numbers)
    head = _START.pack(MAGIC, FORMAT, count) + struct.pack(f"<{count}H", *numbers)
    return head.ljust(_up_to_eight(len(head)), b"\0")


def _read_header(blob: bytes) -> tuple[tuple[int, ...], int]:
    """The analyte numbers of a block, and where its records begin."""
    if len(blob) < _START.size:
        raise BlockError(_DAMAGED)
    count = blob[_START.size - 2] + 256 * blob[_START.size - 1]
    size = _up_to_eight(_START.size + 2 * count)
    return _numbers(blob[:size], count), size


@lru_cache(maxsize=4096)
def _numbers(head: bytes, count: int) -> tuple[int, ...]:
    magic, version, _ = _START.unpack_from(head)
    if magic != MAGIC or version != FORMAT or len(head) < _START.size + 2 * count:
        raise BlockError(_DAMAGED)
    numbers: tuple[int, ...] = struct.unpack_from(f"<{count}H", head, _START.size)
    return numbers


def _records(numbers: tuple[int, ...], body: bytes | memoryview) -> NDArray[np.void]:
    kind = _record(len(numbers))
    if len(body) % kind.itemsize:
        raise BlockError(_DAMAGED)
    records: NDArray[np.void] = np.frombuffer(body, dtype=kind)
    return records


def _columns(
    numbers: tuple[int, ...], records: NDArray[np.void], index: NDArray[np.int32]
) -> SampleColumns:
    # Copies side by side: arithmetic over fields spread through the records would be slower.
    plain: dict[str, Any] = {name: np.ascontiguousarray(records[name]) for name in _PLAIN_FIELDS}
    count = len(records)
    return SampleColumns(
        analytes=numbers,
        compartment=index,
        sample_id=np.ascontiguousarray(records["id"]),
        values=_side_by_side(records, "values").reshape(count, len(numbers)),
        signs=_side_by_side(records, "signs").reshape(count, len(numbers)),
        **plain,
    )


def _side_by_side(records: NDArray[np.void], name: str) -> NDArray[Any]:
    """A field of several numbers of every record, copied as whole stretches of bytes.

    Number by number the copy would take several times as long.
    """
    assert records.dtype.fields is not None  # noqa: S101  # a record has fields
    kind, offset = records.dtype.fields[name][:2]
    whole = np.dtype(
        {
            "names": [name],
            "formats": [f"V{kind.itemsize}"],
            "offsets": [offset],
            "itemsize": records.dtype.itemsize,
        }
    )
    return np.ascontiguousarray(records.view(whole)[name]).view(kind.base)


def _up_to_eight(size: int) -> int:
    return (size + 7) // 8 * 8
