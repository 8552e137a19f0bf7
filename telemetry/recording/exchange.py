"""Recordings as CSV (RFC 4180) or Parquet; ``bring_back.py`` makes recordings of them again, without loss.

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
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from telemetry.errors import MissingPartError, StorageError
from telemetry.extras import pip_here
from telemetry.recording.channels import base, is_int
from telemetry.recording.disk.replacing import replacing
from telemetry.recording.disk.storage import Disk, ImageFile, SystemDisk
from telemetry.recording.document import json_bytes
from telemetry.recording.hdf5.events import CONSOLE, HEADING, REJECTED, line_row, note_row
from telemetry.recording.load import Recording
from telemetry.safe_text import for_cell
from telemetry.sample import QUANTITIES, SampleTable

FORMATS: Final = (".csv", ".parquet")
VERSION: Final = 1
_NAMES: Final = {"t_us": "t", "arrival_us": "arrival"}
CHANNELS: Final = {name: channel for channel, name in _NAMES.items()}
"""Heading -> channel, where the two differ."""
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
    arrow, parquet = arrow_and_parquet()
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


def arrow_and_parquet() -> tuple[Any, Any]:
    try:
        import pyarrow
        import pyarrow.parquet
    except ImportError as error:
        raise MissingPartError("Parquet needs pyarrow", todo=f"Install it with: {pip_here()} install pyarrow") from error
    return pyarrow, pyarrow.parquet
