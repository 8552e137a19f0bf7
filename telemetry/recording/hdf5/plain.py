"""Which datasets are read at all: plain ones that lie in the file itself, packed as we pack, and fit into memory.

HDF5 can also let a file read other files (links, external storage, virtual datasets), run filters of anybody's making, and
claim sizes that no memory has. None of that is in a recording, so all of it is refused before anything is read.
"""

from __future__ import annotations

from typing import Final

from h5py import h5d, h5f, h5l, h5z

from telemetry.recording.document import MOST_PACKED

LEAST_ROOM: Final = 64 << 20
"""Bytes that the values of even the smallest file may take in memory."""
ROOM_FOR_A_BYTE: Final = 64
"""How many more a byte of the file may stand for: five times what was ever measured in a recording."""
WIDEST: Final = 8
"""Bytes of a value."""
_OURS: Final = [h5z.FILTER_SHUFFLE, h5z.FILTER_DEFLATE]
_FILTERS: Final[tuple[list[int], ...]] = ([], _OURS[:1], _OURS[1:], _OURS)


def least_room(file_bytes: int) -> int:
    """Bytes of memory that the values of a file of this size may take."""
    return LEAST_ROOM + ROOM_FOR_A_BYTE * file_bytes


def plain_dataset(file: h5f.FileID, name: str, file_bytes: int, room: int) -> h5d.DatasetID:
    """The dataset ``name`` of one dimension. Raises TypeError where it is not plain, ValueError where it takes more room."""
    if "/" in name or file.links.get_info(name.encode()).type != h5l.TYPE_HARD:
        raise TypeError(name)
    dataset = h5d.open(file, name.encode())
    made = dataset.get_create_plist()
    how, kind = made.get_layout(), dataset.dtype
    filters = [made.get_filter(k)[0] for k in range(made.get_nfilters())]
    if how == h5d.VIRTUAL or filters not in _FILTERS or (how != h5d.CHUNKED and made.get_external_count()):
        raise TypeError(name)
    if dataset.rank != 1 or kind.kind not in "iufS" or kind.itemsize > WIDEST:
        raise TypeError(name)
    rows = int(dataset.shape[0])
    chunk = int(made.get_chunk()[0]) if how == h5d.CHUNKED else 0
    if rows > MOST_PACKED * file_bytes or max(rows, chunk) * WIDEST > room:
        raise ValueError(name)
    return dataset
