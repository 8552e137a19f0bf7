"""Files that a user names, perhaps of others: opened only if they are plain files of a size that such a file can have.

A pipe would be waited for, a device never ends, and a file with a hole in it claims gigabytes. Recordings and journals have
their own readers, which take a stretch at a time.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO, Final

from telemetry.beside import open_to_read, read_open
from telemetry.errors import SidelongError

MOST_TEXT_BYTES: Final = 4 << 20
"""Of a text that people write: a thousand times what they write."""
MOST_TABLE_BYTES: Final = 512 << 20
"""Of a table or a stream that is taken whole: five hours at 1 kHz."""


@contextmanager
def given_file(path: Path, error: type[SidelongError], *, todo: str = "", absent: str = "") -> Iterator[BinaryIO]:
    """The file, open; whatever the system says of it, meanwhile too, becomes ``error``.

    ``absent``: what to do where there is none, ``todo``: where it is another thing.
    """
    where = str(path)
    try:
        with os.fdopen(open_to_read(path), "rb") as file:
            yield file
    except FileNotFoundError as found:
        raise error("there is no such file", where=where, todo=absent or todo) from found
    except OSError as found:
        reason = found.strerror or str(found)
        raise error(f"cannot be read: {reason[:1].lower()}{reason[1:]}", where=where, todo=todo) from found


def given_bytes(
    path: Path, error: type[SidelongError], *, todo: str = "", absent: str = "", most_bytes: int = MOST_TEXT_BYTES
) -> bytes:
    """All of the file. Raises ``error``, see ``given_file``."""
    with given_file(path, error, todo=todo, absent=absent) as file:
        return read_open(file, most_bytes, path)


def given_text(
    path: Path, error: type[SidelongError], *, todo: str = "", absent: str = "", most_bytes: int = MOST_TEXT_BYTES
) -> str:
    """The same as text in UTF-8, perhaps with a byte-order mark."""
    data = given_bytes(path, error, todo=todo, absent=absent, most_bytes=most_bytes)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as found:
        raise error("is not a text in UTF-8", where=str(path), todo=todo) from found
