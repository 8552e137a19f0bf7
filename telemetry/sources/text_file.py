"""A saved or fetched text stream as a source: the same bytes, in blocks, as fast as they can be taken."""

from __future__ import annotations

from io import BufferedReader
from pathlib import Path

from telemetry.errors import StreamError
from telemetry.sources.source import EndOfStream

BLOCK_BYTES = 1 << 18
RECORDINGS = (b"\x89HDF\r\n\x1a\n", b"\x89SLJ\r\n\x1a\n")
"""How recordings and the journals of captures begin; no text does."""


class TextFile:
    """Reads ``path`` in blocks of at most ``block_bytes``; never waits, so ``timeout_s`` has no effect."""

    def __init__(self, path: Path | str, block_bytes: int = BLOCK_BYTES) -> None:
        self.path = Path(path)
        self.block_bytes = block_bytes
        self._file: BufferedReader | None = None

    @property
    def where(self) -> str:
        return str(self.path)

    def open(self) -> None:
        """Raises StreamError where there is no such file, it is a folder or a recording, or it may not be read."""
        self.close()
        try:
            self._file = self.path.open("rb")
            # Looked at without being taken: a pipe cannot go back.
            begin = self._file.peek(len(RECORDINGS[0]))[: len(RECORDINGS[0])]
        except FileNotFoundError as error:
            raise StreamError("there is no such file", where=self.where, todo="Check the name and the folder.") from error
        except (IsADirectoryError, PermissionError) as error:
            # Windows refuses to open a folder with 'permission denied'.
            if self.path.is_dir():
                raise StreamError("this is a folder", where=self.where, todo="Name the text file in it.") from error
            raise StreamError("this file may not be read", where=self.where, todo="Check who owns it.") from error
        except (OSError, ValueError) as error:
            raise StreamError(f"the file cannot be opened ({error})", where=self.where, todo="Check the name.") from error
        if begin in RECORDINGS:
            self.close()
            raise StreamError("this is a recording, not a text", where=self.where, todo="Use it as it is.")

    def read(self, timeout_s: float = 0.0) -> bytes:  # noqa: ARG002 - part of the protocol
        """The next block, never empty. Raises EndOfStream at the end, StreamError where the disk gives an error."""
        if self._file is None:
            raise EndOfStream
        try:
            data = self._file.read(self.block_bytes)
        except OSError as error:
            raise StreamError(f"the file cannot be read on ({error})", where=self.where, todo="Copy it anew.") from error
        if not data:
            raise EndOfStream
        return data

    def close(self) -> None:
        if self._file is not None:
            self._file.close()
            self._file = None
