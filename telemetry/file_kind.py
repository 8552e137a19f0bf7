"""What a TOML file that a user hands over is: told by its keys, so that every place takes it for the same."""

from __future__ import annotations

import tomllib
from enum import Enum
from pathlib import Path

from telemetry.errors import NotThereError, SidelongError
from telemetry.given_file import given_text


class FileKind(Enum):
    """The kinds, and how a sentence calls them."""

    COURSE = "course"
    PALETTE = "palette"
    STRATEGY = "strategy"
    BASELINE = "file of agreed readings"


KEYS: tuple[tuple[FileKind, frozenset[str]], ...] = (
    (FileKind.COURSE, frozenset({"course", "slot", "leg", "group"})),
    (FileKind.BASELINE, frozenset({"strategy"})),
    (FileKind.STRATEGY, frozenset({"stage"})),
    (FileKind.PALETTE, frozenset({"colour", "channels"})),
)
"""A file is the first kind of which it has a key. No other kind has these."""


def file_kind(path: Path) -> FileKind | None:
    """The kind of a TOML file; None where it is none of ours. Raises SidelongError where it cannot be read."""
    return kind_of(given_text(path, NotThereError if not path.exists() else SidelongError), str(path))


def kind_of(text: str, where: str = "file") -> FileKind | None:
    """As ``file_kind``, of the text itself."""
    try:
        table = tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # ValueError: a number of thousands of digits
        raise SidelongError(f"is no TOML ({error})", where=where, todo="Correct it there.") from error
    return next((kind for kind, keys in KEYS if keys & table.keys()), None)
