"""Recordings made again of exported tables, which anybody may have changed.

Every size is held against a bound before memory is taken for it: a compressed text of a kilobyte may claim gigabytes.
"""

from __future__ import annotations

import base64
import csv
import json
import lzma
import os
from array import array
from collections.abc import Iterator
from io import TextIOWrapper
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TextIO

import numpy as np

from telemetry.errors import RecordingError, StorageError
from telemetry.given_file import MOST_TABLE_BYTES, given_file, given_text
from telemetry.recording.channels import base, is_int
from telemetry.recording.disk.replacing import replacing
from telemetry.recording.disk.storage import SystemDisk
from telemetry.recording.document import check_summary
from telemetry.recording.exchange import CHANNELS, VERSION, arrow_and_parquet, sidecar
from telemetry.recording.hdf5.events import read_rows
from telemetry.recording.hdf5.expendable import written_by_us
from telemetry.recording.hdf5.layout import missing, table_dtype
from telemetry.recording.hdf5.writer import RecordingWriter
from telemetry.recording.load import summary_of
from telemetry.recording.make import title_attributes
from telemetry.recording.meta import Meta
from telemetry.safe_text import from_cell
from telemetry.sample import QUANTITIES, Chunk, Columns

MOST_LABELS_BYTES: Final = 128 << 20
MOST_RAW_BYTES: Final = 1 << 30
MOST_LINE: Final = 1 << 20
MOST_CELLS: Final = 100_000_000
"""Of a Parquet file, whose rows may take next to no room."""
MOST_COLOURS: Final = int(np.iinfo(np.int16).max)
"""A table's colours are numbers of 16 bits."""
_MEMORY: Final = 100 << 20
"""What unpacking may take besides its result."""
_TODO: Final = "Export it again"
if TYPE_CHECKING:
    Values = list[Any] | array[Any]


def bring_back(path: Path, target: Path, *, edited: bool = False) -> int:
    """Make a recording at ``target`` of an exported file; returns its samples. Raises RecordingError or StorageError.

    ``edited``: samples were taken out or put in on purpose; else as many must come back as went out.
    """
    if target.exists():
        raise StorageError("this file is there already", where=str(target), todo="Choose another name")
    columns, document = _read_csv(path) if path.suffix == ".csv" else _read_parquet(path)
    try:
        document = dict(document or {})
        if int(document.get("sidelong_export", VERSION)) > VERSION:
            raise RecordingError(
                "it was exported by a newer Sidelong", where=str(path), todo="Update Sidelong to read it"
            )
        check_summary(document.get("summary", {}))
        rows = len(columns["t_us"])
        if not edited and document.get("rows", rows) != rows:
            raise RecordingError(
                f"it has {rows} samples, and {document['rows']} were exported",
                where=str(path),
                todo="Export it again; or, where lines were taken out on purpose, say --edited",
            )
        return _write(columns, document, path, target)
    except (LookupError, TypeError, ValueError, AttributeError, OverflowError, MemoryError, lzma.LZMAError) as error:
        raise RecordingError(
            f"its labels cannot be understood ({error})", where=str(path), todo="Export the recording again"
        ) from error


def _read_csv(path: Path) -> tuple[dict[str, Values], dict[str, Any] | None]:
    try:
        with given_file(path, RecordingError) as file, TextIOWrapper(file, encoding="utf-8", newline="") as text:
            if os.fstat(file.fileno()).st_size > MOST_TABLE_BYTES:
                raise RecordingError(
                    f"it has more than {MOST_TABLE_BYTES >> 20:,} MB", where=str(path), todo="Export shorter runs"
                )
            rows = csv.reader(_lines(text), strict=True)
            names = [_channel(from_cell(text), path) for text in next(rows, [])]
            columns: dict[str, Values] = {name: _column(name) for name in names}
            if len(columns) != len(names):
                raise RecordingError("two columns have one name", where=str(path), todo=_TODO)
            if "t_us" not in columns:
                raise RecordingError(
                    "this table has no column t/us", where=str(path), todo="A robot's own text goes through: sidelong ingest"
                )
            for number, row in enumerate(rows, 2):
                if len(row) != len(names):
                    raise RecordingError(
                        f"line {number} has {len(row)} fields instead of {len(names)}",
                        where=str(path),
                        todo="Correct it there",
                    )
                for name, cell in zip(names, row, strict=True):
                    columns[name].append(_value(name, cell, path, number))
        beside = sidecar(path)
        labels = given_text(beside, RecordingError, most_bytes=MOST_LABELS_BYTES) if os.path.lexists(beside) else "null"
        document = json.loads(labels)
    except (csv.Error, ValueError, RecursionError) as error:
        raise RecordingError(f"this is not a table of samples ({error})", where=str(path), todo=_TODO) from error
    return columns, document


def _lines(file: TextIO) -> Iterator[str]:
    """The file's lines, none of them longer than a line can be."""
    while line := file.readline(MOST_LINE):
        if len(line) == MOST_LINE:
            raise csv.Error("a line is too long")
        yield line


def _column(channel: str) -> Values:
    """Room for the values of a column, eight bytes each."""
    return [] if base(channel) == "colour" else array("q" if is_int(channel) else "d")


def _channel(heading: str, path: Path) -> str:
    name, _, unit = heading.partition("/")
    channel = CHANNELS.get(name, name)
    wanted = QUANTITIES.get(base(channel), unit)
    if unit != wanted and not (wanted == "1" and not unit):
        todo = "A robot's own text goes through: sidelong ingest"
        raise RecordingError(f"the column '{heading}' should be in {wanted}", where=str(path), todo=todo)
    return channel


def _value(channel: str, cell: str, path: Path, number: int) -> Any:
    if base(channel) == "colour":
        return from_cell(cell)
    try:
        if is_int(channel):
            return array("q", [int(cell) if cell else -1])[0]
        return float(cell) if cell else np.nan
    except (ValueError, OverflowError):
        what = f"line {number}: '{cell[:40]}' is not a number for {channel}"
        raise RecordingError(what, where=str(path), todo="Correct it there") from None


def _read_parquet(path: Path) -> tuple[dict[str, Values], dict[str, Any] | None]:
    arrow, parquet = arrow_and_parquet()
    try:
        with given_file(path, RecordingError) as file:
            opened = parquet.ParquetFile(file)
            size = opened.metadata
            if size.num_rows * size.num_columns > MOST_CELLS:
                raise RecordingError(f"it has more than {MOST_CELLS:,} cells", where=str(path), todo="Export shorter runs")
            table = opened.read()
        text = (table.schema.metadata or {}).get(b"sidelong")
        document = json.loads(text) if text else None
    except (arrow.ArrowException, ValueError, RecursionError) as error:
        raise RecordingError("this is not a Parquet file of samples", where=str(path), todo=_TODO) from error
    columns: dict[str, Values] = {}
    for name in table.column_names:
        channel = CHANNELS.get(name, name)
        values = _column(channel)
        empty = "" if base(channel) == "colour" else missing(channel)
        try:
            values.extend(empty if value is None else value for value in table.column(name).to_pylist())
        except (TypeError, OverflowError) as error:
            raise RecordingError(f"the column '{name}' holds no numbers", where=str(path), todo=_TODO) from error
        columns[channel] = values
    if "t_us" not in columns:
        raise RecordingError("this table has no column t", where=str(path), todo=_TODO)
    return columns, document


def _write(columns: dict[str, Values], document: dict[str, Any], path: Path, target: Path) -> int:
    rows = len(columns["t_us"])
    summary = summary_of(document.get("summary", {}))
    colours = list(document.get("colours", ["none"]))
    for channel, values in columns.items():
        if base(channel) == "colour":
            colours = list(dict.fromkeys([*colours, *filter(None, values)]))
    if len(colours) > MOST_COLOURS:
        raise ValueError(f"{len(colours):,} colours")
    number_of = {name: number for number, name in reversed([*enumerate(colours)])}
    whole: Columns = {}
    for channel, values in columns.items():
        if base(channel) == "colour":
            whole[channel] = np.array([number_of[name] if name else -1 for name in values], table_dtype(channel))
        else:
            whole[channel] = np.array(values, table_dtype(channel))
    whole.setdefault("arrival_us", whole["t_us"].copy())
    whole.setdefault("boot", np.zeros(rows, np.int64))
    order = [channel for channel in document.get("columns", []) if channel in whole]
    whole = {channel: whole[channel] for channel in dict.fromkeys([*order, *whole])}
    meta = Meta.from_dict(document.get("meta", {"name": path.stem, "source": f"table {path.name}", "fetched": True}))
    meta = meta.begun()
    notes, rejected, console = read_rows(document.get("events", "").encode().split(b"\n")[1:-1])
    summary.rows, summary.colours = rows, tuple(colours)
    events = Chunk({}, 0, tuple(colours), tuple(notes), tuple(rejected), tuple(console))
    with replacing(SystemDisk(), target, new=True) as image, RecordingWriter(image) as writer:
        done = 0
        for data_us, data, chunk in _pieces(whole, rows, document, tuple(colours)):
            done += chunk.rows
            if data:
                writer.raw(data_us, data, done)
            writer.append(chunk)
        writer.append(events)
        units = document.get("units", {})
        plain = {"meta": meta.to_dict(), "summary": summary.to_dict(), "colours": colours, "units": units}
        writer.finish(plain, title_attributes(meta))
        writer.check()
    written_by_us(target)
    return rows


def _pieces(
    columns: Columns, rows: int, document: dict[str, Any], colours: tuple[str, ...]
) -> Iterator[tuple[int, bytes, Chunk]]:
    """Raw bytes with the samples that arrived at the same time; what has no raw bytes at the end."""
    raw = _raw(document)
    arrival = columns["arrival_us"]
    done = at = 0

    def chunk(stop: int) -> Chunk:
        return Chunk({channel: values[done:stop] for channel, values in columns.items()}, stop - done, colours)

    for arrival_us, length in document.get("reads", []):
        stop = done
        while stop < rows and arrival[stop] == arrival_us:
            stop += 1
        yield arrival_us, raw[at : at + length], chunk(stop)
        done, at = stop, at + length
    yield 0, b"", chunk(rows)


def _raw(document: dict[str, Any]) -> bytes:
    """The robot's raw text: as many bytes as its reads say, or ValueError."""
    length = sum(length for _, length in document.get("reads", []))
    packed = document.get("raw_xz")
    if not packed and not length:
        return b""
    if not 0 <= length <= MOST_RAW_BYTES:
        raise ValueError(f"{length:,} bytes of raw text")
    unpacking = lzma.LZMADecompressor(memlimit=_MEMORY)
    raw = unpacking.decompress(base64.b64decode(packed or ""), length + 1)
    if len(raw) != length or not unpacking.eof:
        raise ValueError("the raw text is not as long as its reads")
    return raw
