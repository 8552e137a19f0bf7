"""What a recording is called: one rule, for whoever makes one and whoever looks for them."""

from __future__ import annotations

import os
import stat
from pathlib import Path
from typing import Final

from telemetry.errors import UsageError
from telemetry.recording.journal.records import SUFFIX, recording_path
from telemetry.recording.removed import REMOVED

ENDINGS: Final = frozenset({".h5", ".hdf5", ".nc"})
"""In capitals too."""
USUAL: Final = ".h5"
OTHERS: Final = frozenset({".csv", ".parquet", ".json", ".txt", ".toml", ".py", ".html", ".xml", ".zip", SUFFIX})
"""Endings that say another kind of file: a recording called so would be taken for what it is not."""


def is_recording(name: str) -> bool:
    """Whether a file of this name may be a recording. Hidden ones are not."""
    return not name.startswith(".") and os.path.splitext(name)[1].casefold() in ENDINGS  # noqa: PTH122


def is_journal(name: str) -> bool:
    """Whether a file of this name may be the journal of a capture."""
    return not name.startswith(".") and name.endswith(SUFFIX) and is_recording(name.removesuffix(SUFFIX))


def recording_called(path: Path) -> Path:
    """The path of a recording that somebody wants to call ``path``: ``run`` is run.h5, ``run.2`` is run.2.h5.

    Raises UsageError where the ending says another kind of file.
    """
    if is_recording(path.name):
        return path
    if path.suffix.casefold() in OTHERS:
        todo = f"Call it {path.stem}{USUAL}; 'sidelong export' writes tables"
        raise UsageError(f"{path}: a recording's name does not end in {path.suffix}", todo=todo)
    return path.with_name(path.name + USUAL)


def recordings_below(folder: Path) -> list[Path]:
    """Every recording in ``folder`` and below it, runs whose capture has not ended among them. Links to folders are not
    followed; pipes, devices and what was removed are passed over.
    """
    found: set[Path] = set()
    for here, below, names in os.walk(folder):
        below[:] = [name for name in below if name != REMOVED]
        for name in names:
            path = Path(here) / name
            if (is_recording(name) or is_journal(name)) and _is_plain(path):
                found.add(recording_path(path) if is_journal(name) else path)
    return sorted(found)


def _is_plain(path: Path) -> bool:
    try:
        return stat.S_ISREG(path.stat().st_mode)
    except OSError:
        return False
