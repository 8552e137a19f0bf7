"""Samples of a file, whichever it is: a saved text stream or a recording."""

from __future__ import annotations

from pathlib import Path

from telemetry.errors import PaletteError
from telemetry.given_file import MOST_TABLE_BYTES, given_bytes, given_file
from telemetry.sample import SampleTable

_HDF5 = b"\x89HDF\r\n\x1a\n"


def table_of(path: Path, columns: str | None = None) -> SampleTable:
    """All samples of ``path``. ``columns`` names those of a text without a header. Raises PaletteError, RecordingError."""
    from telemetry.recording.journal.records import SUFFIX

    if path.name.endswith(SUFFIX) or _is_hdf5(path):
        from telemetry.recording.load import load

        return load(path).table
    todo = "Give a saved text stream or a recording."
    return table_from_text(given_bytes(path, PaletteError, todo=todo, most_bytes=MOST_TABLE_BYTES), str(path), columns)


def _is_hdf5(path: Path) -> bool:
    """Whether the file begins as a recording does. Not where it cannot be read: that is said when it is."""
    try:
        with given_file(path, PaletteError) as file:
            return file.read(len(_HDF5)) == _HDF5
    except PaletteError:
        return False


def table_from_text(data: bytes, where: str, columns: str | None = None) -> SampleTable:
    """The samples of a whole text stream. Raises PaletteError where there are none."""
    from telemetry.stream.decoder import Decoder

    decoder = Decoder(columns)
    table = SampleTable()
    for chunk in [*decoder.feed(data, 0), *decoder.finish()]:
        table.append(chunk)
    if table.rows == 0:
        why = table.rejected[0].reason if table.rejected else "no line of it is a sample"
        raise PaletteError(
            f"there are no samples in it ({why})", where=where,
            todo="Numbers without a header line need --columns; the guide's page on formats says what a stream looks like.",
        )  # fmt: skip
    return table
