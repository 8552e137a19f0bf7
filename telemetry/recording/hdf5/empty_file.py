"""An empty HDF5 file to begin a short recording with: h5py cannot ask HDF5 for all that keeps one small.

Superblock 3 with addresses and lengths of 4 bytes (half as long in every header), and a root group that keeps up to 64 links
and 64 attributes in its own header (HDF5 by itself moves more than 8 links into a heap with an index, over 1 kB), which has
room for those of a usual run. Format: HDF5 file format specification 3.0, II.A (superblock), IV.A.1.b (object header version
2), IV.A.2.c and k (link info, group info); the checksums are part of the constants.
"""

from __future__ import annotations

from typing import Final

_ROOM: Final = 640
_SUPERBLOCK: Final = bytes.fromhex("894844460d0a1a0a0304040000000000ffffffffd40200002000000070e80556")
_ROOT: Final = bytes.fromhex(
    "4f484452021140003c00a4020212000000010000000000000000ffffffffffffff"
    "ff0a060001000140003c0000800200"
)
_ROOT_CHECKSUM: Final = bytes.fromhex("126375ba")


def empty_file() -> bytes:
    """The whole file, 724 bytes."""
    return _SUPERBLOCK + _ROOT + bytes(_ROOM) + _ROOT_CHECKSUM
