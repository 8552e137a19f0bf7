"""Recordings as CSV (RFC 4180) or Parquet, and back without loss.

The samples are the table. Everything else (labels, events, gaps, the raw bytes) is one JSON document: in a Parquet file's
own metadata, beside a CSV file as ``NAME.csv.json``. A CSV that was changed in a spreadsheet comes back as changed.
"""

from __future__ import annotations

import base64
import csv
import io
import json
import lzma
import math
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from telemetry.errors import MissingPartError, RecordingError, StorageError
from telemetry.recording.channels import base, is_int
from telemetry.recording.disk.errors import storage_error
from telemetry.recording.disk.replacing import replacing
from telemetry.recording.disk.storage import Disk, ImageFile, SystemDisk
from telemetry.recording.document import check_summary, json_bytes
from telemetry.recording.hdf5.events import CONSOLE, HEADING, REJECTED, line_row, note_row, read_rows
from telemetry.recording.hdf5.expendable import written_by_us
from telemetry.recording.hdf5.layout import missing, table_dtype
from telemetry.recording.hdf5.writer import RecordingWriter
from telemetry.recording.load import Recording, summary_of
from telemetry.recording.make import title_attributes
from telemetry.recording.meta import Meta
from telemetry.safe_text import for_cell, from_cell
from telemetry.sample import QUANTITIES, Chunk, Columns, SampleTable

FORMATS: Final = (".csv", ".parquet")
VERSION: Final = 1
_NAMES: Final = {"t_us": "t", "arrival_us": "arrival"}
_CHANNELS: Final = {name: channel for channel, name in _NAMES.items()}
_BLOCK: Final = 8192
Progress = Callable[[float], None]


def sidecar(path: Path) -> Path:
    """Where the document of a CSV file lies."""
    return path.with_name(path.name + ".json")


def export(
    recording: Recording, path: Path, *, progress: Progress | None = None, disk: Disk | None = None
) -> list[Path]:
    """Write ``recording`` to ``path`` (``.csv`` or ``.parquet``); returns the files written.

    Raises StorageError (a file that is there is not overwritten), RecordingError where the raw bytes are damaged,
    MissingPartError without pyarrow.
    """
    files = [path, sidecar(path)] if path.suffix == ".csv" else [path]
    for file in files:
        if file.exists():
            raise StorageError("this file is there already", where=str(file), todo="Choose another name")
    document = _document(recording)
    disk = disk or SystemDisk()
    if path.suffix != ".csv":
        with replacing(disk, path, new=True) as image:
            _write_parquet(recording.table, image, document)
        return files
    labels_written = False
    try:
        with replacing(disk, path, new=True) as image:
            _write_csv(recording.table, image, progress)
            # In place before the table is: a table without its labels would pass for one that never had any.
            with replacing(disk, sidecar(path), new=True) as beside:
                beside.write(json_bytes(document))
            labels_written = True
    except StorageError:
        if labels_written and not path.exists():
            disk.remove(sidecar(path))
        raise
    return files


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


# -- out


def _document(recording: Recording) -> dict[str, Any]:
    table = recording.table
    reads = list(recording.raw())
    raw = b"".join(data for _, data in reads)
    events = [note_row(note) for note in table.notes]
    events += [line_row(REJECTED, line) for line in table.rejected] + [line_row(CONSOLE, line) for line in table.console]
    return {
        "sidelong_export": VERSION,
        "meta": recording.meta.to_dict(),
        "summary": recording.summary.to_dict(),
        "colours": list(table.colours),
        "units": table.units,
        "columns": list(table.columns),
        "rows": table.rows,
        "events": (HEADING + b"".join(events)).decode(),
        "reads": [[arrival, len(data)] for arrival, data in reads],
        "raw_xz": base64.b64encode(lzma.compress(raw)).decode(),
    }


def _heading(channel: str, table: SampleTable) -> str:
    unit = QUANTITIES.get(base(channel)) or table.units.get(channel, "")
    name = _NAMES.get(channel, channel)
    return name if unit in {"", "1"} else f"{name}/{unit}"


def _cells(channel: str, values: NDArray[np.generic], colours: tuple[str, ...]) -> list[str]:
    if base(channel) == "colour":
        names = [for_cell(name) for name in colours]
        return ["" if value < 0 else names[value] for value in values.tolist()]
    if channel == "n":
        return ["" if value < 0 else str(value) for value in values.tolist()]
    if is_int(channel):
        return [str(value) for value in values.tolist()]
    return ["" if math.isnan(value) else repr(value) for value in values.tolist()]


def _write_csv(table: SampleTable, image: ImageFile, progress: Progress | None) -> None:
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow([for_cell(_heading(channel, table)) for channel in table.columns])
    for start in range(0, table.rows, _BLOCK):
        block = slice(start, min(start + _BLOCK, table.rows))
        cells = [_cells(channel, values[block], table.colours) for channel, values in table.columns.items()]
        writer.writerows(zip(*cells, strict=True))
        image.write(text.getvalue().encode("utf-8", "backslashreplace"))
        text.seek(0)
        text.truncate()
        if progress is not None:
            progress(start / table.rows)
    image.write(text.getvalue().encode("utf-8", "backslashreplace"))


def _write_parquet(table: SampleTable, image: ImageFile, document: dict[str, Any]) -> None:
    arrow, parquet = _arrow()
    arrays, parts = [], []
    for channel, values in table.columns.items():
        if base(channel) == "colour":
            names = arrow.array(list(table.colours))
            indices = arrow.array(values.astype(np.int32), mask=np.asarray(values, dtype=np.int64) < 0)
            array = arrow.DictionaryArray.from_arrays(indices, names)
        elif channel == "n":
            array = arrow.array(values, mask=np.asarray(values, dtype=np.int64) < 0)
        else:
            array = arrow.array(values, from_pandas=True)
        unit = QUANTITIES.get(base(channel)) or table.units.get(channel, "")
        arrays.append(array)
        parts.append(arrow.field(_NAMES.get(channel, channel), array.type, metadata={"unit": unit}))
    schema = arrow.schema(parts, metadata={"sidelong": json.dumps(document, ensure_ascii=False)})
    held = io.BytesIO()
    parquet.write_table(arrow.Table.from_arrays(arrays, schema=schema), held)
    image.write(held.getbuffer())


def _arrow() -> tuple[Any, Any]:
    try:
        import pyarrow
        import pyarrow.parquet
    except ImportError as error:
        raise MissingPartError("Parquet needs pyarrow", todo="Install it with: python -m pip install pyarrow") from error
    return pyarrow, pyarrow.parquet


# -- and back


def _read_csv(path: Path) -> tuple[dict[str, list[Any]], dict[str, Any] | None]:
    try:
        with path.open(encoding="utf-8", newline="") as file:
            rows = csv.reader(file, strict=True)
            names = [_channel(from_cell(text), path) for text in next(rows, [])]
            columns: dict[str, list[Any]] = {name: [] for name in names}
            if len(columns) != len(names):
                raise RecordingError("two columns have one name", where=str(path), todo="Export it again")
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
        document = json.loads(beside.read_text(encoding="utf-8")) if beside.exists() else None
    except OSError as error:
        raise storage_error(error, path, reading=True) from error
    except (csv.Error, ValueError, RecursionError) as error:
        raise RecordingError(f"this is no table of samples ({error})", where=str(path), todo="Export it again") from error
    return columns, document


def _channel(heading: str, path: Path) -> str:
    name, _, unit = heading.partition("/")
    channel = _CHANNELS.get(name, name)
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
            return int(cell) if cell else -1
        return float(cell) if cell else np.nan
    except ValueError:
        what = f"line {number}: '{cell[:40]}' is no number for {channel}"
        raise RecordingError(what, where=str(path), todo="Correct it there") from None


def _read_parquet(path: Path) -> tuple[dict[str, list[Any]], dict[str, Any] | None]:
    arrow, parquet = _arrow()
    try:
        table = parquet.read_table(path)
        text = (table.schema.metadata or {}).get(b"sidelong")
        document = json.loads(text) if text else None
    except OSError as error:
        raise storage_error(error, path, reading=True) from error
    except (arrow.ArrowException, ValueError, RecursionError) as error:
        raise RecordingError("this is no Parquet file of samples", where=str(path), todo="Export it again") from error
    columns: dict[str, list[Any]] = {}
    for name in table.column_names:
        channel = _CHANNELS.get(name, name)
        empty = "" if base(channel) == "colour" else missing(channel)
        columns[channel] = [empty if value is None else value for value in table.column(name).to_pylist()]
    if "t_us" not in columns:
        raise RecordingError("this table has no column t", where=str(path), todo="Export it again")
    return columns, document


def _write(columns: dict[str, list[Any]], document: dict[str, Any], path: Path, target: Path) -> int:
    rows = len(columns["t_us"])
    summary = summary_of(document.get("summary", {}))
    colours = list(document.get("colours", ["none"]))
    for channel, values in columns.items():
        if base(channel) == "colour":
            colours += [name for name in dict.fromkeys(values) if name and name not in colours]
    whole: Columns = {}
    for channel, values in columns.items():
        if base(channel) == "colour":
            whole[channel] = np.array([colours.index(name) if name else -1 for name in values], table_dtype(channel))
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
    raw = lzma.decompress(base64.b64decode(document["raw_xz"])) if document.get("raw_xz") else b""
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
