"""A text file written beside its name and given the name in one step: the old or the new one, never half of it."""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path

from telemetry.beside import create, part_beside


def write_text(path: Path, text: str) -> None:
    """In UTF-8, each line's end one character. Nothing is left beside where that fails. Raises OSError with ``path``."""
    data = text.encode()
    part = part_beside(path)
    try:
        fd = create(part)
    except OSError as error:
        raise OSError(error.errno, error.strerror, str(path)) from error
    try:
        with os.fdopen(fd, "wb") as file:
            file.write(data)
        part.replace(path)
    except OSError as error:
        raise OSError(error.errno, error.strerror, str(path)) from error
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)
