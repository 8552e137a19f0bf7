"""Where recordings go that are taken out of a folder: a folder in it, from which each can be put back."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Final

from telemetry.errors import NotThereError, StorageError
from telemetry.recording.disk.errors import storage_error

REMOVED: Final = ".removed"
"""Nothing in a folder of this name is listed, compared or judged."""


def place_of_removed(path: Path) -> Path:
    """Where this recording goes, if nothing of its name is there; else beside that, with a number."""
    place = path.parent / REMOVED / path.name
    free, number = place, 2
    while free.exists():
        free = place.with_name(f"{place.stem} ({number}){place.suffix}")
        number += 1
    return free


def last_removed(path: Path) -> Path:
    """Of what was removed under this name, the last. Raises NotThereError."""
    folder = path.parent / REMOVED
    found = [one for one in folder.glob("*") if one.name == path.name or _is_numbered(one, path)]
    if not found:
        todo = f"Look into {folder}; a recording of another folder is named with it, such as runs/{path.name}"
        raise NotThereError("no recording of this name was removed from here", where=str(path), todo=todo)
    return max(found, key=lambda one: (len(one.name), one.name))


def _is_numbered(one: Path, path: Path) -> bool:
    number = one.stem.removeprefix(f"{path.stem} (").removesuffix(")")
    return one.suffix == path.suffix and number.isdigit() and one.stem == f"{path.stem} ({number})"


def move(source: Path, target: Path) -> None:
    """Nothing is written over. Raises StorageError."""
    if target.exists():
        raise StorageError("a file of this name is there already", where=str(target), todo="Rename one of the two")
    try:
        target.parent.mkdir(exist_ok=True)
        shutil.move(source, target)
    except FileNotFoundError as error:
        raise NotThereError("there is no such file", where=str(source)) from error
    except OSError as error:
        raise storage_error(error, source) from error
