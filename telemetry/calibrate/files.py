"""Samples of a file, whichever it is: a saved text stream or a recording."""

from __future__ import annotations

from pathlib import Path

from telemetry.errors import PaletteError
from telemetry.sample import SampleTable

_HDF5 = b"\x89HDF\r\n\x1a\n"


def table_of(path: Path, columns: str | None = None) -> SampleTable:
    """All samples of ``path``. ``columns`` names those of a text without a header. Raises PaletteError, RecordingError."""
    try:
        with path.open("rb") as file:
            head = file.read(len(_HDF5))
    except FileNotFoundError as error:
        raise PaletteError("no such file", where=str(path), todo="Give a saved text stream or a recording.") from error
    except (IsADirectoryError, PermissionError) as error:
        if path.is_dir():
            raise PaletteError(
                "a folder, not a capture", where=str(path), todo="Give a saved text stream or a recording."
            ) from error
        raise PaletteError("may not be read", where=str(path), todo="Check its permissions.") from error
    if head == _HDF5 or path.suffix == ".journal":
        from telemetry.recording.load import load

        return load(path).table
    return table_from_text(path.read_bytes(), str(path), columns)


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
            todo="The guide's page on formats says what a line stream looks like.",
        )  # fmt: skip
    return table
