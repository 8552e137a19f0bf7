"""Where the only chunk of a column lies, read out of the very header that HDF5 reads it from, at a fiftieth of the cost.

Opening a dataset costs HDF5 more than its samples do, and a thousand recordings have ten thousand. Where their headers are
the root says, read past HDF5 (root_header.py) or by it. What stands there is compared byte by byte with a header as we
write them, and is used only where it is one: whatever a file claims, no other values can come out than HDF5 would give.
Format: HDF5 file format specification 3.0, IV.A.1.b (object header version 2), IV.A.2.b, d, f, i and l (the messages).
"""

from __future__ import annotations

import re
import struct
from collections.abc import Mapping
from contextlib import suppress
from functools import cache
from typing import Any, Final, NamedTuple

import numpy as np
from h5py import h5f, h5l

from telemetry.recording.hdf5.root_header import word_of

_TYPES: Final = {
    "<i2": b"\x10\x08\0\0" + struct.pack("<IHH", 2, 0, 16),
    "<i4": b"\x10\x08\0\0" + struct.pack("<IHH", 4, 0, 32),
    "<i8": b"\x10\x08\0\0" + struct.pack("<IHH", 8, 0, 64),
    "<f8": b"\x11\x20\x3f\0" + struct.pack("<IHHBBBBI", 8, 0, 64, 52, 11, 0, 52, 1023),
}  # fmt: skip
"""Message 3 of each type of a column: signed, least byte first; IEEE 754."""
_LAYOUT: Final = rb"\x04\x02\x02\x02\x%02x(?=.{%d}\x01)"
"""A layout in which lengths of a chunk take so many bytes, and how many those of both dimensions take."""


class ChunkPlace(NamedTuple):
    """Where a chunk lies: its first byte in the file, its size; whether its bytes are shuffled."""

    start: int
    size: int
    shuffled: bool


def links_of(file: h5f.FileID) -> dict[bytes, int]:
    """Where HDF5 finds the header of each object of the root; of what is damaged it says so when it is asked for it."""
    at: dict[bytes, int] = {}

    def take(name: bytes, link: Any) -> None:
        if link.type == h5l.TYPE_HARD:
            at[name] = link.u

    with suppress(OSError, RuntimeError, LookupError, ValueError):
        file.links.iterate(take, info=True)
    return at


class ObjectHeaders:
    """The headers of the datasets of one file. ``data``: its bytes, or its first ones; ``links``: where each begins."""

    def __init__(self, data: bytes, links: Mapping[bytes, int]) -> None:
        self._data = data
        self._word = word_of(data)
        self._at = links if self._word else {}

    def place(self, name: str, dtype: np.dtype[Any], rows: int) -> ChunkPlace | None:
        """Where HDF5 finds the values of ``name``; None where only HDF5 can tell, or they are not such values."""
        at = self._at.get(name.encode())
        if at is None or "/" in name:  # for HDF5 that is a path
            return None
        found = _header(dtype.str, self._word).match(self._data, at)
        if found is None:
            return None
        count, shuffle, dimensions, size, start = found.groups()
        width = len(dimensions) // 2
        chunk, item = (int.from_bytes(part, "little") for part in (dimensions[:width], dimensions[width:]))
        if not int.from_bytes(count, "little") == chunk == rows or item != dtype.itemsize:
            return None
        place = ChunkPlace(int.from_bytes(start, "little"), int.from_bytes(size, "little"), bool(shuffle))
        return place if place.start + place.size <= len(self._data) else None


@cache
def _header(dtype: str, word: int) -> re.Pattern[bytes]:
    """What the header of such a column begins with; ``word``: bytes of a length and of an address in this file."""
    kind, length = _TYPES[dtype], b".{%d}" % word
    shuffle = b"\x02\0\x01\0\x01\0" + kind[4:8]
    return re.compile(
        rb"OHDR\x02(?:\x00.|\x01..|\x02.{4})"
        + _head(1, 4 + 2 * word, 0) + rb"\x02\x01\x01\x01(%b)\1" % length  # the space: one dimension, which does not grow
        + _head(3, len(kind), 1) + re.escape(kind)
        + _head(5, 2, 1) + rb"\x03."  # what fills it: nothing of its own
        + rb"(?:%b\x02\x02(%b)|%b\x02\x01)" % (_head(11, 22, 1), re.escape(shuffle), _head(11, 12, 1))
        + rb"\x01\x00\x01\x00\x01\x00.{4}"
        # its place: a single chunk, packed, no filter left out
        + b"(?:%b)" % b"|".join(_head(8, 10 + 2 * (width + word), 0) + _LAYOUT % (width, 2 * width) for width in (1, 2, 4))
        + rb"(.{2}|.{4}|.{8})\x01(%b)\x00{4}(%b)" % (length, length),
        re.DOTALL,
    )  # fmt: skip


def _head(kind: int, size: int, flags: int) -> bytes:
    """How a message begins. Its size counts: what a longer one has behind its end HDF5 does not take for messages."""
    return re.escape(struct.pack("<BHB", kind, size, flags))
