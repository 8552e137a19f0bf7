"""Columns of one chunk, which those of a short recording are: taken out of the file as they lie there, unpacked past HDF5.

Where they lie stands in their headers (object_headers.py). Where a header is not as we write them, HDF5 is asked, with the
checks of plain.py; and where what is found has not the document's CRC-32, so that damage is told by the part that has it.
"""

from __future__ import annotations

import zlib
from typing import Any, Final

import numpy as np
from h5py import h5d, h5f, h5l, h5t, h5z
from numpy.typing import NDArray

from telemetry.recording.hdf5.object_headers import ChunkPlace

_TYPES: Final[dict[str, Any]] = {
    "<i2": h5t.STD_I16LE, "<i4": h5t.STD_I32LE, "<i8": h5t.STD_I64LE, "<f8": h5t.IEEE_F64LE,
}  # fmt: skip
"""How the types of columns are called in HDF5."""


def one_chunk(file: h5f.FileID, name: str, dtype: np.dtype[Any], file_bytes: int, room: int) -> NDArray[Any] | None:
    """The values of the dataset ``name``; None where HDF5 itself has to read it, or refuse it.

    ``file_bytes`` and ``room`` as for ``plain_dataset``. Raises ValueError or zlib.error where the chunk is damaged.
    """
    path = name.encode()
    if "/" in name or file.links.get_info(path).type != h5l.TYPE_HARD:
        return None
    dataset = h5d.open(file, path)
    made = dataset.get_create_plist()
    count = made.get_nfilters()
    shuffled = count == 2
    if made.get_layout() != h5d.CHUNKED or count not in {1, 2} or not _is_ours(made, shuffled):
        return None
    shape = dataset.shape
    if not dataset.get_type().equal(_TYPES[dtype.str]) or len(shape) != 1 or dataset.get_num_chunks() != 1:
        return None
    rows, chunk = int(shape[0]), int(made.get_chunk()[0])
    lies = dataset.get_chunk_info(0)
    if not 0 < rows <= chunk or chunk * dtype.itemsize > room or lies.filter_mask or lies.size > file_bytes:
        return None
    _, packed = dataset.read_direct_chunk((0,))
    return _values(packed, dtype, rows, chunk, shuffled)


def at_place(
    data: bytes, place: ChunkPlace | None, dtype: np.dtype[Any], rows: int, crc32: int | None
) -> NDArray[Any] | None:
    """The values whose chunk lies at ``place`` of a file's bytes; None where they are not there."""
    values = None if crc32 is None else values_at(data, place, dtype, rows)
    return values if values is not None and zlib.crc32(values.data) == crc32 else None


def values_at(data: bytes, place: ChunkPlace | None, dtype: np.dtype[Any], rows: int) -> NDArray[Any] | None:
    """The same, whatever their checksum."""
    if place is None or not rows:
        return None
    try:
        return _values(data[place.start : place.start + place.size], dtype, rows, rows, place.shuffled)
    except (ValueError, zlib.error):
        return None


def _values(packed: bytes, dtype: np.dtype[Any], rows: int, chunk: int, shuffled: bool) -> NDArray[Any]:
    data = _inflated(packed, chunk * dtype.itemsize)
    if not shuffled:
        return np.frombuffer(data, dtype)[:rows]
    parts = np.frombuffer(data, np.uint8).reshape(dtype.itemsize, chunk)
    return np.ascontiguousarray(parts[:, :rows].T).reshape(-1).view(dtype)


def _is_ours(made: Any, shuffled: bool) -> bool:
    """Deflate, or shuffle and then deflate."""
    if made.get_filter(int(shuffled))[0] != h5z.FILTER_DEFLATE:
        return False
    return not shuffled or made.get_filter(0)[0] == h5z.FILTER_SHUFFLE


def _inflated(packed: bytes, size: int) -> bytes:
    """Exactly ``size`` bytes, their checksum looked at."""
    room = zlib.decompressobj()
    data = room.decompress(packed, size)
    # Asked for no more than a chunk holds, zlib may still owe its checksum a look.
    data += room.decompress(room.unconsumed_tail, 1)
    if len(data) != size or not room.eof:
        raise ValueError("a chunk of another length")
    return data
