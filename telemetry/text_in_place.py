"""A text file written beside its name and given the name in one step: the old or the new one, never half of it."""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path


def write_text(path: Path, text: str) -> None:
    """In UTF-8, each line's end one character. Nothing is left beside where that fails. Raises OSError with ``path``."""
    part = path.with_name(f"{path.name}.{os.getpid()}.part")
    try:
        part.write_text(text, encoding="utf-8", newline="\n")
        part.replace(path)
    except OSError as error:
        raise OSError(error.errno, error.strerror, str(path)) from error
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)
