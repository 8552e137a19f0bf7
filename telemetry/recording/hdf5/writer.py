"""Writes a recording: decoded columns, events, raw bytes and one document, laid out as LAYOUT.md says."""

from __future__ import annotations

import lzma
import sys
import zlib
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from types import TracebackType
from typing import Any, Final, Self

import h5py
import numpy as np
from h5py import h5f, h5fd, h5p

from telemetry.recording.disk.storage import ImageFile
from telemetry.recording.document import packed_document
from telemetry.recording.hdf5 import layout
from telemetry.recording.hdf5.attributes import (
    DOCUMENT,
    write_attributes,
    write_bytes,
    write_dimension,
    write_flags,
    write_text,
)
from telemetry.recording.hdf5.columns import ColumnsWriter
from telemetry.recording.hdf5.empty_file import empty_file
from telemetry.recording.hdf5.events import CONSOLE, HEADING, REJECTED, line_row, note_row
from telemetry.recording.hdf5.heap import for_the_heap
from telemetry.recording.hdf5.image import SafeImage
from telemetry.recording.hdf5.layout import IN_ATTRIBUTE, TIME_UNITS, Encoding
from telemetry.recording.hdf5.series import ByteSeries, NumberSeries
from telemetry.sample import Chunk

_XZ: Final = [{"id": lzma.FILTER_LZMA2, "preset": 6, "dict_size": 1 << 20, "lc": 2, "pb": 0}]
_WORDS: Final = {
    "raw": "every byte that arrived, as it arrived",
    "reads": "for bytes that arrived together: how many bytes, how many samples complete with them, us after that sample",
    "events": "notes, rejected lines and console text: a table of text, its first line names the columns",
}


@dataclass(frozen=True)
class _Blocks:
    """How much goes into a chunk. The defaults for a stream of any length; a short one is one chunk, whatever is in it."""

    samples: int = layout.BLOCK
    raw: int = layout.RAW_BLOCK
    events: int = layout.RAW_BLOCK
    reads: int = layout.READ_BLOCK

    @classmethod
    def short(cls, most_bytes: int) -> Self:
        """No sample is shorter than a digit and a line end."""
        return cls(most_bytes // 2 + 2, sys.maxsize, sys.maxsize, sys.maxsize)


@dataclass
class _Read:
    """Bytes that arrived together. ``rows``: samples that were complete with them, of the whole run."""

    arrival_us: int
    length: int
    rows: int


class RecordingWriter:
    """One recording in the making, in bounded memory. ``raw`` and ``append``, then ``finish``; use it as a context.

    ``image`` is emptied first. ``most_bytes``: so many bytes of the stream at most, where that is known; a short one makes
    a smaller file. Call ``check`` often and after ``finish``: HDF5 itself is never told of a failed write.
    """

    def __init__(self, image: ImageFile, *, most_bytes: int | None = None) -> None:
        short = most_bytes is not None and most_bytes < layout.RAW_BLOCK
        blocks = _Blocks.short(most_bytes) if most_bytes is not None and short else _Blocks()
        self._image = SafeImage(image)
        self._file = _create(self._image, short=short)
        self._pool = ThreadPoolExecutor(2, thread_name_prefix="compress")
        self._columns = ColumnsWriter(self._file, self._pool, blocks.samples)
        self._events = ByteSeries(self._file, "events", "S1", self._pool, blocks.events)
        self._event_count = 0
        self._raw = ByteSeries(self._file, "raw", "u1", self._pool, blocks.raw)
        self._reads = NumberSeries(self._file, "reads", self._pool, blocks.reads)
        self._read: _Read | None = None
        self._first_us: int | None = None
        self._crc32: dict[str, int] = {}
        self._last_us = 0
        self._rows = 0

    def check(self) -> None:
        """Raise the first error of the disk, if there was one."""
        self._image.check()

    def raw(self, arrival_us: int, data: bytes, rows: int) -> None:
        """Bytes as they arrived; ``rows`` samples of the whole run were complete with them. One time is one read."""
        self._raw.add(data)
        if self._read is not None and self._read.arrival_us == arrival_us:
            self._read.length += len(data)
            self._read.rows = rows
            return
        self._end_read()
        if data:
            self._read = _Read(arrival_us, len(data), rows)

    def append(self, chunk: Chunk) -> None:
        """What a piece of the stream turned into."""
        if chunk.rows:
            self._columns.append(chunk.columns, chunk.rows)
        for note in chunk.notes:
            self._event(note_row(note))
        for line in chunk.rejected:
            self._event(line_row(REJECTED, line))
        for line in chunk.console:
            self._event(line_row(CONSOLE, line))

    def finish(self, document: Mapping[str, Any], attributes: Mapping[str, str]) -> None:
        """Write what is left, the document and the attributes for people, and close.

        ``document`` has ``colours`` (names) and ``units`` (channel -> unit of further columns).
        """
        self._columns.finish()
        self._end_read()
        columns = self._columns.encodings.values()
        for column in columns:
            self._label(column, document)
        if self._columns.rows:
            write_dimension(self._file, "sample", self._columns.rows, [self._file[column.dataset] for column in columns])
        counts = {"rows": self._columns.rows, "events": self._event_count, "bytes": self._raw.count}
        counts |= {"reads": self._reads.count // 3, "first_us": self._first_us or 0}
        names = [[column.channel, column.dataset, column.kind] for column in columns]
        values = self._short_values()
        if "events" in values:
            counts["events_crc32"] = zlib.crc32(values["events"])
        checks = self._columns.crc32 | self._crc32 | {name: zlib.crc32(value) for name, value in values.items()}
        plain = {**document, **counts, "layout": layout.VERSION, "columns": names, "crc32": checks}
        plain |= {"chunks_crc32": self._columns.blocks_crc32} if self._columns.blocks_crc32 else {}
        values[DOCUMENT] = packed_document(plain)
        in_heap = for_the_heap({name: len(value) for name, value in values.items()}, len(columns))
        write_attributes(self._file, {**attributes, "Conventions": layout.CONVENTIONS})
        for name, value in values.items():
            if name == "events":
                write_text(self._file, name, value, apart=name in in_heap)
            else:
                write_bytes(self._file, name, value, apart=name in in_heap or len(value) > IN_ATTRIBUTE)
        self.close()

    def close(self) -> None:
        """Let go. May be called twice."""
        self._pool.shutdown()
        self._file.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self.close()

    def _event(self, row: bytes) -> None:
        if not self._event_count:
            self._events.add(HEADING)
        self._events.add(row)
        self._event_count += 1

    def _end_read(self) -> None:
        read, self._read = self._read, None
        if read is None:
            return
        if self._first_us is None:
            self._first_us = self._last_us = read.arrival_us
        if read.rows > self._rows:
            self._last_us = read.arrival_us
        self._reads.add(read.length, read.rows - self._rows, read.arrival_us - self._last_us)
        self._rows = read.rows

    def _short_values(self) -> dict[str, bytes]:
        """What is short enough for an attribute; the rest becomes a variable. A dataset costs more than a short value.

        A short stream is an .xz file within the file, half the size of deflate.
        """
        out: dict[str, bytes] = {}
        raw, reads, events = self._raw.all_of_it, self._reads.all_of_it, self._events.all_of_it
        if raw:
            out["raw_xz"] = lzma.compress(raw, lzma.FORMAT_XZ, lzma.CHECK_CRC32, filters=_XZ)
        elif self._raw.count:
            self._raw.finish()
            self._crc32["raw"] = self._raw.crc32
            self._dimension("raw", "byte", self._raw.count)
        packed = zlib.compress(reads, 9) if reads else b""
        if packed and len(packed) <= IN_ATTRIBUTE:
            out["reads"] = packed
        elif self._reads.count:
            self._reads.finish()
            self._crc32["reads"] = self._reads.crc32
            self._dimension("reads", "read_number", self._reads.count)
        if events and len(events) <= IN_ATTRIBUTE:
            out["events"] = events
        elif self._events.count:
            self._events.finish()
            self._crc32["events"] = self._events.crc32
            self._dimension("events", "event_character", self._events.count)
        return out

    def _dimension(self, name: str, dimension: str, length: int) -> None:
        write_attributes(self._file[name], {"long_name": _WORDS[name]})
        write_dimension(self._file, dimension, length, [self._file[name]])

    def _label(self, column: Encoding, document: Mapping[str, Any]) -> None:
        dataset = self._file[column.dataset]
        quantity, _, sensor = column.channel.partition(".")
        text = {"long_name": layout.LONG_NAMES.get(quantity, quantity) + (f", sensor {sensor}" if sensor else "")}
        if column.channel == "arrival_us":
            text |= {"units": TIME_UNITS, "standard_name": "time"}
        elif quantity == "colour":
            write_flags(dataset, [-1, *range(len(document["colours"]))], ["missing", *document["colours"]])
        elif unit := "ms" if column.kind == "milli" else layout.unit(column.channel, document["units"]):
            text["units"] = unit
        if column.channel not in self._columns.gappy:
            pass
        elif column.kind == "whole":
            dataset.attrs.create("_FillValue", np.array([layout.FILL], "<i4"))
        elif column.kind == "float":
            dataset.attrs.create("_FillValue", np.array([np.nan], "<f8"))
        elif column.channel == "n":
            dataset.attrs.create("_FillValue", np.array([-1], column.dtype))
        if column.channel not in layout.DATASETS:
            text["coordinates"] = "time robot_time"
        write_attributes(dataset, text)


def _create(image: SafeImage, *, short: bool) -> h5py.File:
    """A new file whose attributes lie in the headers themselves: a short run is small, its file must be too."""
    access = h5p.create(h5p.FILE_ACCESS)
    access.set_libver_bounds(h5f.LIBVER_V110, h5f.LIBVER_V110)
    access.set_meta_block_size(512)
    access.set_fileobj_driver(h5fd.fileobj_driver, image)
    if short:
        image.write(empty_file())
        image.check()
        return h5py.File(h5f.open(b"image", h5f.ACC_RDWR, access))
    creation = h5p.create(h5p.FILE_CREATE)
    creation.set_link_creation_order(h5p.CRT_ORDER_TRACKED)
    creation.set_attr_phase_change(64, 60)
    return h5py.File(h5f.create(b"image", h5f.ACC_TRUNC, creation, access))
