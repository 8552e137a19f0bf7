"""The checksum of HDF5's headers, so that tests can put one right that they have changed.

Bob Jenkins' lookup3 (hashlittle, public domain, 2006), which the HDF5 file format specification 3.0 names.
"""

from __future__ import annotations

_MASK = 0xFFFFFFFF


def _turned(value: int, bits: int) -> int:
    return (value << bits | value >> 32 - bits) & _MASK


def lookup3(data: bytes) -> int:
    """hashlittle with a start of 0."""
    a = b = c = 0xDEADBEEF + len(data) & _MASK
    if not data:
        return c
    padded = data + bytes(-len(data) % 12)
    words = [int.from_bytes(padded[at : at + 4], "little") for at in range(0, len(padded), 4)]
    for at in range(0, len(words), 3):
        a, b, c = a + words[at] & _MASK, b + words[at + 1] & _MASK, c + words[at + 2] & _MASK
        if at + 3 == len(words):
            break
        for bits in (4, 6, 8, 16, 19, 4):
            a = (a - c ^ _turned(c, bits)) & _MASK
            a, b, c = b, c + b & _MASK, a
    for bits in (14, 11, 25, 16, 4, 14, 24):
        c = (c ^ b) - _turned(b, bits) & _MASK
        a, b, c = b, c, a
    return b
