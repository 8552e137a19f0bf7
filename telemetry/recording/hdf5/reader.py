"""Reads a recording's file: the document, the columns and the events at once, the raw bytes only on demand.

Uses h5py's low level: comparing a thousand runs opens a thousand files. Every part has its CRC-32 in the document, and the
document its own, so a changed bit is an error and never another value. Recordings of before have only deflate's Adler-32,
which misses about one changed bit in 15,000: ``sidelong runs verify`` holds their samples against the raw bytes.
"""

from __future__ import annotations

import lzma
import zlib
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

import h5py
import numpy as np
from h5py import h5d, h5f, h5s
from numpy.typing import NDArray

from telemetry.block_column import LONG_ROWS
from telemetry.errors import RecordingError, StorageError
from telemetry.recording.channels import base
from telemetry.recording.document import check_document, unpacked_document
from telemetry.recording.hdf5 import layout
from telemetry.recording.hdf5.attributes import DOCUMENT, read_bytes, read_text
from telemetry.recording.hdf5.events import read_rows
from telemetry.recording.hdf5.expendable import assure
from telemetry.recording.hdf5.layout import Encoding, unpacked
from telemetry.recording.hdf5.long_columns import LongColumns, Places, places_of
from telemetry.recording.hdf5.object_headers import ObjectHeaders, links_of
from telemetry.recording.hdf5.one_chunk import at_place, one_chunk
from telemetry.recording.hdf5.opening import ANEW, BROKEN, first_bytes, opened
from telemetry.recording.hdf5.plain import least_room, plain_dataset
from telemetry.recording.hdf5.root_header import Root, read_root
from telemetry.sample import Columns, Line, Note

LZMA_BYTES = 64 << 20
_VALUES = {"events", "reads", "raw_xz"}
"""What a short recording holds as attributes, besides the document."""


class RecordingFile:
    """An open recording. ``damage``: in words, what could not be read so far. ``close()`` it."""

    def __init__(self, path: Path, *, by_hdf5: bool = False) -> None:
        """``by_hdf5``: all is read by HDF5 itself, nothing past it."""
        self.path = path
        self.damage: list[str] = []
        assure(path, by_hdf5=by_hdf5)
        begin, self._bytes = first_bytes(path)
        self._begin = b"" if by_hdf5 else begin
        self._room = least_room(self._bytes)
        self._hdf5: h5f.FileID | None = None
        self._root: Root | None = read_root(self._begin)
        try:
            if self._root is not None:
                self.document = self._read_document()
                if not _VALUES & self._root.attributes.keys() <= self.document.get("crc32", {}).keys():
                    self._root = None
            if self._root is None:
                self._hdf5 = opened(path)
                self.document = self._read_document()
            links = self._root.links if self._root is not None else links_of(self._file) if self._begin else {}
            self._headers = ObjectHeaders(self._begin, links)
        except BaseException:
            self.close()
            raise

    @property
    def _file(self) -> h5f.FileID:
        """The file, opened by HDF5 at the first need. Raises OSError where it cannot be."""
        if self._hdf5 is None:
            try:
                assure(self.path, by_hdf5=True)
                self._hdf5 = opened(self.path)
            except (RecordingError, StorageError) as error:
                raise OSError(str(error)) from error
        return self._hdf5

    def _bytes_of(self, name: str) -> bytes | None:
        """The bytes of an attribute; None where there is no such. Raises TypeError where it holds no bytes."""
        if self._root is None:
            return read_bytes(self._file, name)
        return self._root.attributes.get(name)

    def _holds(self, name: str) -> bool:
        """Whether there is such a dataset."""
        return name.encode() in (self._file if self._root is None else self._root.links)

    def try_all(self, *, as_used: bool = False) -> bool:
        """Read everything once and keep none of it; whether it is sound. In the expendable process, so in bounded memory.

        ``as_used``: only what HDF5 itself will read. The columns of a long recording are unpacked past it, by zlib and
        numpy, and checked when they are used.
        """
        past_hdf5 = as_used and self.document["rows"] >= LONG_ROWS and self._places() is not None
        for channel, dataset, kind in () if past_hdf5 else self.document["columns"]:
            try:
                self._try_column(channel, dataset, kind)
            except BROKEN:
                self.damage.append(f"the column '{dataset}' is damaged")
        self.events()
        with suppress(*BROKEN):
            for name in ("reads", "raw_xz"):
                self._try_value(name)
            if self._holds("raw"):
                # Where its chunks lie is HDF5's business, what is in them zlib's.
                self._dataset("raw").chunk_iter(lambda _chunk: None)
                next(self._raw_pieces())
        return not self.damage

    def _try_value(self, name: str) -> None:
        value = self._bytes_of(name)
        if value is None and self._holds(name):
            self._array(name)
        elif value is not None and zlib.crc32(value) != self.document.get("crc32", {}).get(name, zlib.crc32(value)):
            self.damage.append("the raw bytes are damaged")

    def _try_column(self, channel: str, name: str, kind: str) -> None:
        encoding, rows = Encoding(channel, name, kind), self.document["rows"]
        if rows < LONG_ROWS:
            whole = self._array(name, encoding.dtype)
            if whole.dtype != encoding.dtype or len(whole) != rows:
                raise TypeError(name)
            if base(channel) == "colour" and not self._are_colours(whole):
                raise ValueError(name)
            return
        dataset = h5py.Dataset(self._dataset(name))
        if dataset.dtype != encoding.dtype or len(dataset) != rows:
            raise TypeError(name)
        crc32 = 0
        for start in range(0, rows, LONG_ROWS):
            stored = dataset[start : start + LONG_ROWS]
            crc32 = zlib.crc32(stored.data, crc32)
            if base(channel) == "colour" and not self._are_colours(stored):
                raise ValueError(name)
        self._check(name, crc32)

    def columns(self, again: Callable[[], Columns] | None = None, *, only: frozenset[str] | None = None) -> Columns | None:
        """Every column (or ``only`` these) in the Table's types; None where one is damaged (``damage`` says which).

        Those of a long recording are only read when they are used (BlockColumn), where ``again`` can make them anew from
        the raw bytes should damage come to light then.
        """
        out: Columns = {}
        rows = self.document["rows"]
        places = self._places() if again is not None and rows >= LONG_ROWS else None
        if again is not None and places is not None:
            colours = len(self.document.get("summary", {}).get("colours", ["none"]))
            out = LongColumns(self.path, rows, places, colours=colours, again=again, look=self._look_again).columns()
            return out if "boot" in out else out | {"boot": np.zeros(rows, np.int64)}
        for channel, dataset, kind in self.document["columns"]:
            if only is not None and channel not in only:
                continue
            try:
                dtype = Encoding(channel, dataset, kind).dtype
                stored = self._array(dataset, dtype)
                if stored.dtype != dtype:
                    raise TypeError(dataset)
                out[channel] = unpacked(channel, kind, stored)
                if len(stored) != rows or (base(channel) == "colour" and not self._are_colours(out[channel])):
                    raise ValueError(dataset)
            except BROKEN:
                self.damage.append(f"the column '{dataset}' is damaged")
        if rows and "boot" not in out:
            out["boot"] = np.zeros(rows, np.int64)
        return None if self.damage else out

    def events(self) -> tuple[list[Note], list[Line], list[Line]] | None:
        """Notes, rejected lines, console text; None where they are damaged."""
        if not self.document["events"]:
            return [], [], []
        try:
            text = self._root.attributes.get("events") if self._root is not None else read_text(self._file, "events")
            table = self._array("events").tobytes() if text is None else text
            if text is not None:
                self._check("events", zlib.crc32(text))
                if zlib.crc32(text) != self.document.get("events_crc32", zlib.crc32(text)):
                    raise ValueError("events")
            rows = table.split(b"\n")[1:-1]
            if len(rows) != self.document["events"]:
                raise ValueError("events")
            return read_rows(rows)
        except BROKEN:
            self.damage.append("the notes and rejected lines are damaged")
            return None

    def raw(self) -> Iterator[tuple[int, bytes]]:
        """(arrival in us, bytes) of every read, in order. Raises RecordingError where they are damaged."""
        try:
            yield from self._raw()
        except BROKEN as error:
            raise RecordingError(
                "the raw bytes of this recording are damaged",
                where=str(self.path),
                todo="Its samples may still be whole; take a copy of the file from a backup",
            ) from error

    def close(self) -> None:
        """May be called twice."""
        if self._hdf5 is not None:
            self._hdf5.close()

    def _places(self) -> dict[str, tuple[Encoding, Places]] | None:
        """Where the chunks of every column lie; None where one has to be read by HDF5."""
        out: dict[str, tuple[Encoding, Places]] = {}
        for channel, dataset, kind in self.document["columns"]:
            encoding = Encoding(channel, dataset, kind)
            try:
                stored = self._dataset(dataset)
                found = places_of(self._file, dataset)
                if found is None or stored.dtype != encoding.dtype or stored.shape != (self.document["rows"],):
                    return None
            except BROKEN:
                return None
            whole = self.document.get("crc32", {})
            crc32 = tuple(self.document.get("chunks_crc32", {}).get(dataset, [whole[dataset]] if whole else []))
            if whole and len(crc32) != len(found.chunks):
                return None
            out[channel] = encoding, replace(found, crc32=crc32)
        return out

    def _look_again(self) -> dict[str, tuple[Encoding, Places]] | None:
        """The same of the file that has this name now; None where it holds another run."""
        file = RecordingFile(self.path)
        try:
            same = all(file.document.get(key) == self.document.get(key) for key in ("rows", "columns", "bytes", "first_us"))
            return file._places() if same else None
        finally:
            file.close()

    def _are_colours(self, indices: NDArray[Any]) -> bool:
        known = len(self.document.get("summary", {}).get("colours", ["none"]))
        return not len(indices) or bool(indices.min() >= -1 and indices.max() < known)

    def _raw(self) -> Iterator[tuple[int, bytes]]:
        if not self.document["bytes"]:
            return
        packed = self._bytes_of("reads")
        if packed is not None:
            self._check("reads", zlib.crc32(packed))
        reads = self._array("reads") if packed is None else np.frombuffer(_unpacked(packed, self._room), "<i8")
        lengths, samples, lags = reads.reshape(-1, 3).T
        times = self._array("time", np.dtype("<i8")) if self.document["rows"] else np.zeros(0, np.int64)
        arrivals = np.concatenate([[self.document["first_us"]], times])[np.cumsum(samples)] + lags
        if int(lengths.sum()) != self.document["bytes"]:
            raise ValueError("reads")
        pieces = self._raw_pieces()
        held = b""
        for arrival, length in zip(arrivals.tolist(), lengths.tolist(), strict=True):
            while len(held) < length:
                held += next(pieces)
            yield arrival, held[:length]
            held = held[length:]
        for _ in pieces:  # to its end, where its checksum is
            raise ValueError("raw")

    def _raw_pieces(self) -> Iterator[bytes]:
        small = self._bytes_of("raw_xz")
        if small is None and self._holds("raw_xz"):
            small = self._array("raw_xz").tobytes()
        if small is not None:
            self._check("raw_xz", zlib.crc32(small))
            if self.document["bytes"] > self._room:
                raise ValueError("raw_xz")
            yield lzma.LZMADecompressor(lzma.FORMAT_XZ, memlimit=LZMA_BYTES).decompress(small, self.document["bytes"])
            return
        dataset = h5py.Dataset(self._dataset("raw"))
        if dataset.dtype != np.uint8:
            raise TypeError("raw")
        crc32 = 0
        for start in range(0, len(dataset), layout.RAW_BLOCK):
            piece = dataset[start : start + layout.RAW_BLOCK].tobytes()
            crc32 = zlib.crc32(piece, crc32)
            yield piece
        self._check("raw", crc32)

    def _check(self, name: str, crc32: int) -> None:
        """Raise ValueError where a part is not as it was written."""
        if crc32 != self.document.get("crc32", {}).get(name, crc32):
            raise ValueError(name)

    def _array(self, name: str, expected: np.dtype[Any] | None = None) -> NDArray[Any]:
        """All values of a dataset. ``expected``: the type of a column, which is read faster where it is so."""
        found = None if expected is None else self._column(name, expected)
        if found is not None:
            self._check(name, zlib.crc32(found.data))
            return found
        dataset = self._dataset(name)
        rows = dataset.shape[0]
        out = np.empty(rows, dataset.dtype)
        if rows:
            dataset.read(h5s.ALL, h5s.ALL, out)
        self._check(name, zlib.crc32(out.data))
        return out

    def _column(self, name: str, dtype: np.dtype[Any]) -> NDArray[Any] | None:
        """A column of one chunk; None where HDF5 has to read it."""
        rows, crc32 = self.document["rows"], self.document.get("crc32", {}).get(name)
        found = at_place(self._begin, self._headers.place(name, dtype, rows), dtype, rows, crc32)
        return one_chunk(self._file, name, dtype, self._bytes, self._room) if found is None else found

    def _dataset(self, name: str) -> h5d.DatasetID:
        """A dataset that lies in this file and fits into memory. Raises TypeError or ValueError for any other."""
        return plain_dataset(self._file, name, self._bytes, self._room)

    def _read_document(self) -> dict[str, Any]:
        try:
            packed = self._bytes_of(DOCUMENT)
            if packed is None:
                raise RecordingError(
                    "this HDF5 file was not made by Sidelong", where=str(self.path), todo="Choose another file"
                )
            document = unpacked_document(packed)
            version: int = document["layout"]
            if version <= layout.VERSION:
                check_document(document, self._bytes)
        except BROKEN as error:
            raise RecordingError(
                "the labels of this recording are damaged, so nothing in it can be trusted", where=str(self.path), todo=ANEW
            ) from error
        if version > layout.VERSION:
            raise RecordingError(
                f"it was written by a newer Sidelong (layout {version}, this one reads up to {layout.VERSION})",
                where=str(self.path),
                todo="Update Sidelong to read it",
            )
        return document


def _unpacked(packed: bytes, room: int) -> bytes:
    unpacking = zlib.decompressobj()
    data = unpacking.decompress(packed, room)
    if not unpacking.eof:
        raise ValueError("reads")
    return data
