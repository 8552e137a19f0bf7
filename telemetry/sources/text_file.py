"""A saved or fetched text stream as a source: the same bytes, in blocks, as fast as they can be taken.

Text in UTF-16, as some programs on Windows save it, is given as UTF-8.
"""

from __future__ import annotations

import codecs
import stat
from io import BufferedReader
from pathlib import Path

from telemetry.beside import RECORDINGS
from telemetry.errors import StreamError
from telemetry.sources.source import EndOfStream

BLOCK_BYTES = 1 << 18

MOST_BYTES = 8 << 30
_LOOK_BYTES = 64


def utf16_of(begin: bytes) -> str:
    """The codec of a text that begins so: ``utf-16`` with its mark, ``utf-16-le`` or ``utf-16-be`` without; else empty."""
    if begin.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)) and not begin.startswith(codecs.BOM_UTF32_LE):
        return "utf-16"
    first, second = begin[::2], begin[1::2]
    if len(first) < 8 or len(first) != len(second):
        return ""
    if not any(second) and b"\0" not in first:
        return "utf-16-le"
    return "utf-16-be" if not any(first) and b"\0" not in second else ""


class TextFile:
    """Reads ``path`` in blocks of at most ``block_bytes``; never waits, so ``timeout_s`` has no effect."""

    def __init__(self, path: Path | str, block_bytes: int = BLOCK_BYTES) -> None:
        self.path = Path(path)
        self.block_bytes = block_bytes
        self._file: BufferedReader | None = None
        self._wide: codecs.IncrementalDecoder | None = None

    @property
    def where(self) -> str:
        return str(self.path)

    def open(self) -> None:
        """Raises StreamError where there is no such file, it is a folder or a recording, or it may not be read."""
        self.close()
        self._ask_kind()
        try:
            self._file = self.path.open("rb")
            # Looked at without being taken: a pipe cannot go back.
            begin = self._file.peek(_LOOK_BYTES)[:_LOOK_BYTES]
        except FileNotFoundError as error:
            raise StreamError("there is no such file", where=self.where, todo="Check the name and the folder.") from error
        except (IsADirectoryError, PermissionError) as error:
            # Windows refuses to open a folder with 'permission denied'.
            if self.path.is_dir():
                raise StreamError("this is a folder", where=self.where, todo="Name the text file in it.") from error
            raise StreamError("this file may not be read", where=self.where, todo="Check who owns it.") from error
        except (OSError, ValueError) as error:
            raise StreamError(f"the file cannot be opened ({error})", where=self.where, todo="Check the name.") from error
        if begin.startswith(RECORDINGS):
            self.close()
            todo = "Use it as it is; with --columns NAMES it is read again."
            raise StreamError("this is a recording, not a text", where=self.where, todo=todo)
        codec = utf16_of(begin)
        self._wide = codecs.getincrementaldecoder(codec)(errors="replace") if codec else None

    def _ask_kind(self) -> None:
        """A pipe is waited for, as everywhere; a device would never end, and a hole of gigabytes is no robot's text."""
        try:
            info = self.path.stat()
        except (OSError, ValueError):
            return  # said by the opening
        if stat.S_ISCHR(info.st_mode) or stat.S_ISBLK(info.st_mode):
            todo = f"A robot on a port is recorded by: sidelong capture {self.path}"
            raise StreamError("this is a device, not a saved text", where=self.where, todo=todo)
        if info.st_size > MOST_BYTES:
            what = f"it has {info.st_size >> 20:,} MB, more than a robot prints in a day"
            raise StreamError(what, where=self.where, todo="Cut it into runs.")

    def read(self, timeout_s: float = 0.0) -> bytes:  # noqa: ARG002 - part of the protocol
        """The next block; empty only where it held half a character.

        Raises EndOfStream at the end, StreamError where the disk gives an error.
        """
        if self._file is None:
            raise EndOfStream
        try:
            data = self._file.read(self.block_bytes)
        except OSError as error:
            raise StreamError(f"the file cannot be read on ({error})", where=self.where, todo="Copy it again.") from error
        if not data:
            raise EndOfStream
        return data if self._wide is None else self._wide.decode(data).encode()

    def close(self) -> None:
        if self._file is not None:
            self._file.close()
            self._file = None
