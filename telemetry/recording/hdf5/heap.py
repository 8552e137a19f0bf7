"""The heap that HDF5 gives every file with named dimensions: what goes into it, and whether it is sound.

The heap takes 4 kB as soon as there is one reference to a dimension, and those fill a tenth of it: what fits besides costs
nothing. Format: HDF5 file format specification 3.0, III.E (global heap).
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations
from typing import BinaryIO, Final

_SIGNATURE: Final = b"GCOL\x01\0\0\0"
_SIZE: Final = 4096 - 16
WINDOW: Final = 1 << 21
_OWN: Final = 16
"""Bytes before each value; values take multiples of 8."""


def for_the_heap(lengths: Mapping[str, int], dimensioned: int) -> frozenset[str]:
    """Which of these values (name -> bytes) fill the heap of a file with so many dimensioned variables best.

    What is said to fit and does not costs room, no more.
    """
    room = _SIZE - dimensioned * _taken(8)
    sets = [frozenset(chosen) for count in range(len(lengths) + 1) for chosen in combinations(lengths, count)]
    fitting = [chosen for chosen in sets if sum(_taken(lengths[name]) for name in chosen) <= room]
    return max(fitting, key=lambda chosen: sum(lengths[name] for name in chosen), default=frozenset())


def _taken(length: int) -> int:
    return _OWN + (length + 7) // 8 * 8


class FileBytes:
    """A file's bytes, read as they are asked for: what ``check_heaps`` needs of ``bytes``, in constant memory."""

    def __init__(self, file: BinaryIO) -> None:
        self._file = file
        self._size = file.seek(0, 2)

    def __len__(self) -> int:
        return self._size

    def __getitem__(self, part: slice) -> bytes:
        start, stop, _ = part.indices(self._size)
        self._file.seek(start)
        return self._file.read(max(0, stop - start))

    def find(self, what: bytes, start: int) -> int:
        """As ``bytes.find``."""
        while start < self._size:
            piece = self[start : start + WINDOW]
            found = piece.find(what)
            if found >= 0:
                return start + found
            start += WINDOW - len(what) + 1
        return -1


def check_heaps(data: bytes | FileBytes) -> None:
    """Raise ValueError where a heap in a file's bytes is not well formed.

    HDF5 keeps no checksum of its heaps, and walks through them trusting each length: a zero in the wrong place and it walks
    for ever. So nothing is given to HDF5 whose heaps do not end where they should. ``data``: a whole file, superblock 2 or 3
    (others are not written by us, and pass).
    """
    begin = data[:12]
    if len(begin) < 12 or begin[8] not in {2, 3}:
        return
    head = _Head(begin[10])
    at = data.find(_SIGNATURE, 0)
    while at >= 0:
        at = data.find(_SIGNATURE, head.end_of_heap(data, at))


class _Head:
    """Reads what stands before each value; ``size``: bytes of a length in this file."""

    def __init__(self, size: int) -> None:
        if size not in {2, 4, 8}:
            raise ValueError("lengths of no possible size")
        self._size = size
        self._bytes = 8 + (size + 7) // 8 * 8

    def end_of_heap(self, data: bytes | FileBytes, start: int) -> int:
        """Where the heap that begins at ``start`` ends; every value in it lies within it."""
        end = start + self._length(data, start)
        at = start + self._bytes
        if not at <= end <= len(data):
            raise ValueError("a heap of no possible length")
        while at + self._bytes <= end:
            number, length = int.from_bytes(data[at : at + 2], "little"), self._length(data, at)
            step = self._bytes + (length + 7) // 8 * 8 if number else length
            if step < self._bytes or at + step > end:
                raise ValueError("a value in a heap is longer than the heap")
            at += step
        return end

    def _length(self, data: bytes | FileBytes, at: int) -> int:
        return int.from_bytes(data[at + 8 : at + 8 + self._size], "little")
