"""The verdicts on one compartment's samples as one run of bytes, apart from their values.

Judging anew rewrites these few bytes instead of the whole packed history. All little-endian: the
letters FDV1, the format's version, nothing, the number n of samples, a check sum of their
identifiers; then n severities as single bytes, filled up with zeros to a multiple of 8, and n
digests of 8 bytes. Samples stand in the order of the history block. Where the identifiers differ,
the history was written anew since: then the verdicts in it count.
"""

import struct
import zlib
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from fluiddesk.domain.samples import SampleColumns

MAGIC: Final = b"FDV1"
FORMAT: Final = 1
_ID_BYTES: Final = 16
_START: Final = struct.Struct("<4sHHII")


def pack_verdicts(columns: SampleColumns) -> bytes:
    """Severity and digest of the samples of one compartment as bytes."""
    return pack_each(columns, [slice(0, len(columns))])[0]


def pack_each(columns: SampleColumns, boxes: Iterable[slice]) -> list[bytes]:
    """Severity and digest of the samples of each of some compartments as bytes.

    Args:
        columns: samples; those of one compartment together.
        boxes: the rows of each compartment.
    """
    ids = memoryview(np.ascontiguousarray(columns.sample_id).tobytes())
    severity = columns.severity.astype(np.int8).tobytes()
    digest = columns.digest.astype("<u8").tobytes()
    packed = []
    for rows in boxes:
        start, stop = rows.start, rows.stop
        told = zlib.crc32(ids[_ID_BYTES * start : _ID_BYTES * stop])
        count = stop - start
        head = _START.pack(MAGIC, FORMAT, 0, count, told)
        padded = severity[start:stop].ljust(_up_to_eight(count), b"\0")
        packed.append(head + padded + digest[8 * start : 8 * stop])
    return packed


def with_verdicts(
    groups: Sequence[SampleColumns], blobs: Sequence[bytes | None]
) -> list[SampleColumns]:
    """Groups of samples with the verdicts that stand apart from them.

    Args:
        groups: samples; those of one compartment together.
        blobs: for each index of ``SampleColumns.compartment`` its verdicts; ``None`` where the
            compartment has none apart. A damaged one counts as none.
    """
    return [_overlaid(group, blobs) for group in groups]


def fits(columns: SampleColumns, blob: bytes) -> bool:
    """Whether verdicts are of exactly these samples of one compartment."""
    ids = memoryview(np.ascontiguousarray(columns.sample_id).tobytes())
    return _known(blob, ids)


def _known(blob: bytes, ids: memoryview) -> bool:
    if len(blob) < _START.size:
        return False
    magic, version, _, count, told = _START.unpack_from(blob)
    size = _START.size + _up_to_eight(count) + 8 * count
    same = magic == MAGIC and version == FORMAT and len(blob) == size
    return bool(same and len(ids) == _ID_BYTES * count and told == zlib.crc32(ids))


def _overlaid(group: SampleColumns, blobs: Sequence[bytes | None]) -> SampleColumns:
    if not len(group) or not any(blobs):
        return group
    box = group.compartment
    starts = np.flatnonzero(np.diff(box, prepend=box[0] - 1))
    stops = np.append(starts[1:], len(box))
    ids = memoryview(np.ascontiguousarray(group.sample_id).tobytes())
    severity, digest = group.severity.tobytes(), group.digest.astype("<u8").tobytes()
    severities, digests = list[bytes](), list[bytes]()
    for start, stop, place in zip(
        starts.tolist(), stops.tolist(), box[starts].tolist(), strict=True
    ):
        blob, count = blobs[place], stop - start
        if blob is not None and _known(blob, ids[_ID_BYTES * start : _ID_BYTES * stop]):
            severities.append(blob[_START.size : _START.size + count])
            digests.append(blob[_START.size + _up_to_eight(count) :])
        else:
            severities.append(severity[start:stop])
            digests.append(digest[8 * start : 8 * stop])
    return replace(
        group,
        severity=np.frombuffer(b"".join(severities), np.int8).copy(),
        digest=np.frombuffer(b"".join(digests), "<u8").astype(np.uint64),
    )


def _up_to_eight(size: int) -> int:
    return (size + 7) // 8 * 8
