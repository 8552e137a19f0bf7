"""The columns of a long recording, read from its file chunk by chunk when they are needed, on any thread.

HDF5 says once where the chunks lie; from then on they are read past it (its library does one thing at a time) and unpacked
as its filters 'deflate' and 'shuffle' pack them (HDF5 file format specification 3.0, IV.A.2.l).
"""

from __future__ import annotations

import threading
import zlib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from h5py import h5d, h5f, h5z
from numpy.typing import NDArray

from telemetry.block_column import BlockColumn
from telemetry.errors import RecordingError
from telemetry.recording.channels import base
from telemetry.recording.hdf5.layout import Encoding, unpacked
from telemetry.sample import Columns


@dataclass(frozen=True, slots=True)
class Places:
    """Where the chunks of a dataset lie: (first byte, size) each in order, ``rows`` values a chunk, shuffled or not.

    ``crc32``: of the values of each, where the document says it.
    """

    chunks: tuple[tuple[int, int], ...]
    rows: int
    shuffled: bool
    crc32: tuple[int, ...] = ()


def places_of(file: h5f.FileID, name: str) -> Places | None:
    """The chunks of a dataset as this program writes them; None for any other, which HDF5 itself has to read."""
    dataset = h5d.open(file, name.encode())
    made = dataset.get_create_plist()
    if made.get_layout() != h5d.CHUNKED or file.get_create_plist().get_userblock() or dataset.rank != 1:
        return None
    filters = [made.get_filter(k)[0] for k in range(made.get_nfilters())]
    if filters not in ([h5z.FILTER_DEFLATE], [h5z.FILTER_SHUFFLE, h5z.FILTER_DEFLATE]):
        return None
    (rows,) = made.get_chunk()
    count = -(-dataset.shape[0] // rows)
    found: dict[int, tuple[int, int]] = {}

    def take(chunk: Any) -> None:
        if not chunk.filter_mask and chunk.byte_offset is not None:
            found[chunk.chunk_offset[0] // rows] = (chunk.byte_offset, chunk.size)

    dataset.chunk_iter(take)
    if sorted(found) != list(range(count)):
        return None
    return Places(tuple(found[k] for k in range(count)), rows, len(filters) == 2)


class LongColumns:
    """Reads blocks of the columns in ``encodings`` from the recording at ``path``.

    ``again`` makes all columns anew from the raw bytes, and is called where a block turns out to be damaged; ``look``
    gives the places once more where the file was written anew meanwhile (other labels), and None where it is another run.
    """

    def __init__(
        self,
        path: Path,
        rows: int,
        encodings: dict[str, tuple[Encoding, Places]],
        *,
        colours: int,
        again: Callable[[], Columns],
        look: Callable[[], dict[str, tuple[Encoding, Places]] | None],
    ) -> None:
        self._path, self._rows, self._colours = path, rows, colours
        self._encodings = encodings
        self._again, self._look = again, look
        self._lock = threading.RLock()
        self._stamp = self._stamp_now()
        self._anew: Columns | None = None

    def columns(self) -> Columns:
        """Every column, nothing of it read yet."""
        out: dict[str, Any] = {}
        for channel, (encoding, places) in self._encodings.items():
            sample = unpacked(channel, encoding.kind, np.empty(0, encoding.dtype))
            out[channel] = BlockColumn(self._rows, sample.dtype, places.rows, self._reader(channel, places.rows))
        return out

    def _reader(self, channel: str, size: int) -> Callable[[int], NDArray[Any]]:
        def read(number: int) -> NDArray[Any]:
            try:
                return self._read(channel, number) if self._anew is None else self._from_raw(channel, number, size)
            except (OSError, ValueError, zlib.error, LookupError):
                return self._from_raw(channel, number, size)

        return read

    def _read(self, channel: str, number: int) -> NDArray[Any]:
        with self._path.open("rb") as file:
            self._same_file()
            encoding, places = self._encodings[channel]
            at, size = places.chunks[number]
            file.seek(at)
            packed = file.read(size)
        room = zlib.decompressobj()
        data = room.decompress(packed, places.rows * encoding.dtype.itemsize)
        # Asked for no more than a chunk holds, zlib may still owe its checksum a look.
        data += room.decompress(room.unconsumed_tail, 1)
        if len(data) != places.rows * encoding.dtype.itemsize or not room.eof:
            raise ValueError(channel)
        stored = _unshuffled(data, encoding.dtype) if places.shuffled else np.frombuffer(data, encoding.dtype)
        stored = stored[: self._rows - number * places.rows]
        if places.crc32 and zlib.crc32(np.ascontiguousarray(stored).data) != places.crc32[number]:
            raise ValueError(channel)
        values = unpacked(channel, encoding.kind, stored)
        colours: NDArray[Any] = values
        if base(channel) == "colour" and not bool(np.all((colours >= -1) & (colours < self._colours))):
            raise ValueError(channel)
        return values

    def _from_raw(self, channel: str, number: int, size: int) -> NDArray[Any]:
        with self._lock:
            if self._anew is None:
                self._anew = self._again()
        return self._anew[channel][number * size : (number + 1) * size]

    def _same_file(self) -> None:
        with self._lock:
            now = self._stamp_now()
            if now == self._stamp:
                return
            found = self._look()
            if found is None or _shapes(found) != _shapes(self._encodings):
                raise RecordingError(
                    "this recording was replaced by another one while it was open",
                    where=str(self._path),
                    todo="Open it again",
                )
            self._encodings, self._stamp = found, now

    def _stamp_now(self) -> tuple[int, int, int]:
        info = self._path.stat()
        return info.st_ino, info.st_size, info.st_mtime_ns


def _shapes(encodings: dict[str, tuple[Encoding, Places]]) -> dict[str, tuple[str, int, int]]:
    return {name: (encoding.kind, places.rows, len(places.chunks)) for name, (encoding, places) in encodings.items()}


def _unshuffled(data: bytes, dtype: np.dtype[Any]) -> NDArray[Any]:
    parts = np.frombuffer(data, np.uint8).reshape(dtype.itemsize, -1)
    return np.ascontiguousarray(parts.T).reshape(-1).view(dtype)
