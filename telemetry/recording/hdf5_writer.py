"""Writes a recording: decoded columns, events, raw bytes and one document, laid out as LAYOUT.md says."""

from __future__ import annotations

import json
import lzma
import zlib
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from types import TracebackType
from typing import Any, Final, Self

import h5py
import numpy as np
from h5py import h5a, h5ds, h5f, h5fd, h5p, h5s, h5t

from telemetry.recording import layout
from telemetry.recording.columns import LEVEL, BlockSeries, ColumnsWriter
from telemetry.recording.events import CONSOLE, HEADING, REJECTED, line_row, note_row
from telemetry.recording.image import SafeImage
from telemetry.recording.layout import RAW_BLOCK, TIME_UNITS
from telemetry.recording.storage import ImageFile
from telemetry.sample import Chunk

_EVENT_BLOCK: Final = 65_536
_NO_VARIABLE: Final = "This is a netCDF dimension but not a netCDF variable."


_READS: Final = {"read_length": "<i4", "read_samples": "<i4", "read_lag": "<i8"}
_XZ: Final = [{"id": lzma.FILTER_LZMA2, "preset": 6, "dict_size": 1 << 20}]
READ_WORDS: Final = {
    "read_length": "how many bytes arrived together",
    "read_samples": "how many samples were complete with them",
    "read_lag": "arrival of these bytes after the time of the last sample so far (of 1970 before the first)",
}
EVENT_WORDS: Final = "notes, rejected lines and console text: a table of text, its first line names the columns"


@dataclass
class Read:
    """Bytes that arrived together. ``samples``: how many were complete with them."""

    arrival_us: int
    length: int
    samples: int = 0


class _Numbers:
    """Collects whole numbers and writes them as one dataset."""

    def __init__(self, file: h5py.File, name: str, kind: str, pool: ThreadPoolExecutor, block: int = _EVENT_BLOCK) -> None:
        self.count = 0
        self._block = block
        self._dtype = np.dtype(kind)
        self._waiting: list[int] = []
        self._series = BlockSeries(file, name, self._dtype, block, pool)

    def add(self, value: int) -> None:
        self._waiting.append(value)
        self.count += 1
        if len(self._waiting) == self._block:
            self._series.write(np.array(self._waiting, self._dtype))
            self._waiting.clear()

    def finish(self) -> None:
        self._series.write(np.array(self._waiting, self._dtype), last=True)
        self._series.finish()


class _Bytes:
    """Collects bytes and writes them as one dataset."""

    def __init__(self, file: h5py.File, name: str, kind: str, pool: ThreadPoolExecutor, level: int) -> None:
        self.count = 0
        self._dtype = np.dtype(kind)
        self._waiting = bytearray()
        self._series = BlockSeries(file, name, self._dtype, RAW_BLOCK, pool, fill=self._dtype.type(), level=level)

    def add(self, data: bytes) -> None:
        self._waiting += data
        self.count += len(data)
        while len(self._waiting) >= RAW_BLOCK:
            self._series.write(np.frombuffer(bytes(self._waiting[:RAW_BLOCK]), self._dtype))
            del self._waiting[:RAW_BLOCK]

    def finish(self) -> None:
        self._series.write(np.frombuffer(bytes(self._waiting), self._dtype), last=True)
        self._series.finish()

    @property
    def all_of_it(self) -> bytes | None:
        """Everything so far, while it is short."""
        return bytes(self._waiting) if self.count == len(self._waiting) else None


class RecordingWriter:
    """One recording in the making, in bounded memory. ``append``, ``raw``, then ``finish``; use it as a context.

    ``image`` is emptied first. After ``finish`` look at ``error``: HDF5 itself is never told of a failed write.
    """

    def __init__(self, image: ImageFile) -> None:
        self._image = SafeImage(image)
        self._pool = ThreadPoolExecutor(2, thread_name_prefix="compress")
        self._file = _create(self._image)
        self._columns = ColumnsWriter(self._file, self._pool)
        self._events = _Bytes(self._file, "events", "S1", self._pool, 6)
        self._event_count = 0
        self._raw = _Bytes(self._file, "raw", "u1", self._pool, LEVEL)
        self._reads = {name: _Numbers(self._file, name, kind, self._pool) for name, kind in _READS.items()}
        self._read: Read | None = None
        self._last_us = 0

    @property
    def error(self) -> OSError | None:
        """The first error of the disk, None while all is well."""
        return self._image.error

    @property
    def rows(self) -> int:
        """Samples so far."""
        return self._columns.rows

    def append(self, chunk: Chunk) -> None:
        """What a piece of the stream turned into."""
        if chunk.rows:
            self._columns.append(chunk.columns, chunk.rows)
            self._last_us = int(chunk.columns["arrival_us"][-1])
            if self._read is not None:
                self._read.samples += chunk.rows
        for note in chunk.notes:
            self._event(note_row(note))
        for line in chunk.rejected:
            self._event(line_row(REJECTED, line))
        for line in chunk.console:
            self._event(line_row(CONSOLE, line))

    def raw(self, arrival_us: int, data: bytes) -> None:
        """Bytes as they arrived, before what they turned into is appended. What arrived at one time is one read."""
        self._raw.add(data)
        if self._read is not None and self._read.arrival_us == arrival_us:
            self._read.length += len(data)
            return
        self._end_read()
        self._read = Read(arrival_us, len(data))

    def finish(self, document: dict[str, Any], attributes: dict[str, str]) -> None:
        """Write what is left, the document and the attributes for people, and close."""
        self._columns.finish()
        self._end_read()
        document = document | {
            "layout": layout.VERSION,
            "rows": self.rows,
            "events": self._event_count,
            "bytes": self._raw.count,
            "reads": self._reads["read_length"].count,
            "columns": [[item.channel, item.dataset, item.kind] for item in self._columns.encodings.values()],
        }
        self._label_columns(document)
        if self._event_count:
            self._events.finish()
            self._label("events", "event_character", self._events.count, EVENT_WORDS)
        if self._raw.count:
            self._finish_raw()
            scale = None
            for name, numbers in self._reads.items():
                numbers.finish()
                scale = self._label(name, "read", numbers.count, READ_WORDS[name], scale)
        write_attributes(self._file, attributes | {"Conventions": layout.CONVENTIONS})
        write_document(self._file, document)
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

    def _finish_raw(self) -> None:
        """A short stream as an .xz file within the file, half the size of deflate; a long one chunk by chunk."""
        raw = self._raw.all_of_it
        if raw is None:
            self._raw.finish()
            self._label("raw", "byte", self._raw.count, "every byte that arrived, as it arrived")
            return
        small = lzma.compress(raw, lzma.FORMAT_XZ, lzma.CHECK_CRC32, filters=_XZ)
        self._file.create_dataset("raw_xz", data=np.frombuffer(small, np.uint8), track_times=False)
        self._label("raw_xz", "byte", len(small), "every byte that arrived, as it arrived, packed as an .xz file")

    def _end_read(self) -> None:
        if self._read is not None:
            self._reads["read_length"].add(self._read.length)
            self._reads["read_samples"].add(self._read.samples)
            self._reads["read_lag"].add(self._read.arrival_us - self._last_us)
            self._read = None

    def _label_columns(self, document: dict[str, Any]) -> None:
        scale = self._dimension("sample", self.rows)
        for item in self._columns.encodings.values():
            dataset = self._file[item.dataset]
            quantity, _, sensor = item.channel.partition(".")
            text = {"long_name": layout.LONG_NAMES.get(quantity, quantity) + (f", sensor {sensor}" if sensor else "")}
            if item.channel == "arrival_us":
                text |= {"units": TIME_UNITS, "standard_name": "time", "calendar": "standard"}
            elif quantity == "colour":
                _flags(dataset, [-1, *range(len(document["colours"]))], ["missing", *document["colours"]])
            else:
                unit = layout.unit(item.channel, document["units"])
                if unit:
                    text["units"] = unit
            if item.kind == "whole":
                dataset.attrs.create("_FillValue", np.array([layout.FILL], "<i4"))
            elif item.kind == "float":
                dataset.attrs.create("_FillValue", np.array([np.nan], "<f8"))
            elif item.channel == "n":
                dataset.attrs.create("_FillValue", np.array([-1], item.dtype))
            if item.channel not in layout.DATASETS:
                text["coordinates"] = "time robot_time"
            write_attributes(dataset, text)
            h5ds.attach_scale(dataset.id, scale, 0)

    def _label(self, name: str, dimension: str, length: int, words: str, scale: Any = None) -> Any:
        write_attributes(self._file[name], {"long_name": words} | ({"units": "us"} if name == "read_lag" else {}))
        scale = scale or self._dimension(dimension, length)
        h5ds.attach_scale(self._file[name].id, scale, 0)
        return scale

    def _dimension(self, name: str, length: int) -> Any:
        """A netCDF-4 dimension without a variable, as the netCDF-4 format specification writes it."""
        dataset = self._file.create_dataset(name, shape=(length,), dtype=">f4")
        h5ds.set_scale(dataset.id, f"{_NO_VARIABLE}{length:10d}".encode())
        return dataset.id


def _create(image: SafeImage) -> h5py.File:
    """A new file whose names and attributes lie in the headers themselves: a short run is small, its file must be too."""
    access = h5p.create(h5p.FILE_ACCESS)
    access.set_libver_bounds(h5f.LIBVER_V110, h5f.LIBVER_V110)
    access.set_meta_block_size(512)
    access.set_fileobj_driver(h5fd.fileobj_driver, image)
    creation = h5p.create(h5p.FILE_CREATE)
    creation.set_link_creation_order(h5p.CRT_ORDER_TRACKED | h5p.CRT_ORDER_INDEXED)
    creation.set_attr_creation_order(h5p.CRT_ORDER_TRACKED | h5p.CRT_ORDER_INDEXED)
    creation.set_attr_phase_change(64, 60)
    return h5py.File(h5f.create(b"image", h5f.ACC_TRUNC, creation, access))


def write_attributes(holder: Any, texts: dict[str, str]) -> None:
    """Fixed-length texts, which every reader of HDF5 knows."""
    for name, text in texts.items():
        data = text.encode()
        kind = h5t.TypeID.copy(h5t.C_S1)
        kind.set_size(max(1, len(data)))
        kind.set_cset(h5t.CSET_UTF8)
        kind.set_strpad(h5t.STR_NULLTERM if not data else h5t.STR_NULLPAD)
        if name in holder.attrs:
            del holder.attrs[name]
        attribute = h5a.create(holder.id, name.encode(), kind, h5s.create(h5s.SCALAR))
        attribute.write(np.array(data, f"S{max(1, len(data))}"), mtype=kind)


def write_document(file: h5py.File, document: dict[str, Any]) -> None:
    """The one JSON attribute that the fast reader needs, with its CRC-32."""
    text = json.dumps(document, ensure_ascii=False, separators=(",", ":"))
    write_attributes(file, {"sidelong": text})
    if "sidelong_crc32" in file.attrs:
        del file.attrs["sidelong_crc32"]
    file.attrs.create("sidelong_crc32", zlib.crc32(text.encode()), dtype="<u4")


def _flags(dataset: h5py.Dataset, values: Any, meanings: Any) -> None:
    """CF 3.5: the meanings of whole numbers, separated by blanks, so blanks within become underscores."""
    dataset.attrs.create("flag_values", np.array(list(values), dataset.dtype))
    write_attributes(dataset, {"flag_meanings": " ".join(str(word).replace(" ", "_") for word in meanings)})
