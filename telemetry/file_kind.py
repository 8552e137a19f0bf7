"""What a TOML file of a user is: told by the schemas of our files, so that every place takes it for the same."""

from __future__ import annotations

from collections.abc import Mapping
from enum import Enum
from pathlib import Path
from typing import Any

from telemetry.course.document import CourseDocument
from telemetry.errors import NotThereError, SidelongError
from telemetry.given_file import given_text
from telemetry.palette_file import PaletteDocument
from telemetry.reading.load import StrategyDocument
from telemetry.replay.baseline.file import BaselineDocument
from telemetry.schema import keys_of
from telemetry.toml_text import TomlError, read_toml


class FileKind(Enum):
    """The kinds, and how a sentence calls them."""

    COURSE = "course"
    PALETTE = "palette"
    STRATEGY = "strategy"
    BASELINE = "file of agreed readings"


SCHEMAS: Mapping[FileKind, type[Any]] = {
    FileKind.COURSE: CourseDocument,
    FileKind.BASELINE: BaselineDocument,
    FileKind.STRATEGY: StrategyDocument,
    FileKind.PALETTE: PaletteDocument,
}


def file_kind(path: Path) -> FileKind | None:
    """The kind of a TOML file; None where it is none of ours. Raises SidelongError where it cannot be read."""
    return kind_of(given_text(path, NotThereError if not path.exists() else SidelongError), str(path))


def kind_of(text: str, where: str = "file") -> FileKind | None:
    """As ``file_kind``, of the text itself: the kind of which it has a key that no other kind has."""
    try:
        table = read_toml(text)
    except TomlError as error:
        what = f"is not valid TOML: {error.what}"
        raise SidelongError(what, where=where, todo=error.todo or "Correct it there.") from error
    if isinstance(table.get("course"), dict):  # in a baseline it is a text: where the course is
        return FileKind.COURSE
    known = {kind: set(keys_of(schema)) for kind, schema in SCHEMAS.items()}
    for kind, keys in known.items():
        others = set[str]().union(*(other for one, other in known.items() if one is not kind))
        if table.keys() & (keys - others):
            return kind
    return None
