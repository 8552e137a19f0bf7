"""A season's folder: beside the runs it holds palettes, strategies, baselines, courses and reports, each named by itself."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from enum import Enum
from pathlib import Path
from typing import TYPE_CHECKING, Final

from gui.words import tr
from telemetry.errors import SidelongError

if TYPE_CHECKING:
    from telemetry.palette import Palette

MOST_FILES: Final = 400
"""Of each ending so many are looked at, the newest first: a folder may hold anything."""
HEAD_BYTES: Final = 4096
LONGEST_NAME: Final = 70
BASELINE_HEAD: Final = b"# Agreed readings"


class SeasonKind(Enum):
    """What lies in the folder beside the runs; the value is how a file's name begins."""

    PALETTE = "palette"
    STRATEGY = "strategy"
    BASELINE = "baseline"
    COURSE = "course"
    REPORT = "report"


ENDINGS: Final = {
    SeasonKind.PALETTE: ".toml", SeasonKind.STRATEGY: ".toml", SeasonKind.BASELINE: ".txt", SeasonKind.COURSE: ".toml",
    SeasonKind.REPORT: ".html",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class SeasonFile:
    """``when`` is local time, ``about`` what is in it, in words."""

    path: Path
    kind: SeasonKind
    when: datetime
    about: str

    @property
    def title(self) -> str:
        """Its name and, where it says more, what is in it."""
        return f"{self.path.stem}   {self.about}".rstrip()


class Season:
    """``files`` of a folder, the newest first. What was looked at is remembered for as long as it stays as it is."""

    def __init__(self) -> None:
        self._known: dict[tuple[str, int, int], tuple[SeasonKind, str] | None] = {}

    def files(self, folder: Path, *kinds: SeasonKind) -> list[SeasonFile]:
        """Those of these kinds (without any: all). A folder or file that cannot be read holds none."""
        found = []
        for item in _newest(folder):
            state = item.stat()
            key = (item.path, state.st_mtime_ns, state.st_size)
            if key not in self._known:
                self._known[key] = _look(Path(item.path))
            known = self._known[key]
            if known is not None and (not kinds or known[0] in kinds):
                when = datetime.fromtimestamp(state.st_mtime).astimezone()
                found.append(SeasonFile(Path(item.path), known[0], when, known[1]))
        return found


def free_file(folder: Path, kind: SeasonKind, *words: str, now: datetime | None = None) -> Path:
    """A name that nothing has yet: ``baseline 2026-11-28 14.05.txt``, with ``words`` behind the time.

    A strategy goes by the one that it was made from, ``hold 2026-11-28 14.05.toml``: it is the name of a column.
    """
    moment = (now or datetime.now().astimezone()).strftime("%Y-%m-%d %H.%M")
    said = " ".join(clean for word in words if (clean := _fit(word)))
    parts = (said, moment) if kind is SeasonKind.STRATEGY and said else (kind.value, moment, said)
    stem = " ".join(parts).strip()[:LONGEST_NAME].strip()
    number = 1
    while True:
        target = folder / f"{stem if number == 1 else f'{stem} ({number})'}{ENDINGS[kind]}"
        if not os.path.lexists(target):
            return target
        number += 1


def palette_words(palette: Palette) -> str:
    """When it was made, in which light and at which heights."""
    heights = sorted({mm for colour in palette.colours for mm, _ in colour.by_height})
    tall = tr("{heights} mm", heights=", ".join(f"{mm:g}" for mm in heights)) if heights else ""
    return ", ".join(part for part in (palette.made, tall if tall and tall not in palette.made else "") if part)


def _fit(word: str) -> str:
    """What any file system takes: letters, digits, blanks, dots and hyphens."""
    return re.sub(r"\s+", " ", re.sub(r"[^\w .-]", " ", word)).strip(" .")


def _newest(folder: Path) -> Iterator[os.DirEntry[str]]:
    try:
        with os.scandir(folder) as listing:
            items = [item for item in listing if item.name.lower().endswith((".toml", ".txt", ".html")) and item.is_file()]
        items.sort(key=lambda item: item.stat().st_mtime_ns, reverse=True)
    except OSError:
        return
    yield from items[:MOST_FILES]


def _look(path: Path) -> tuple[SeasonKind, str] | None:
    """What a file is; None: none of these, or not to be read."""
    from telemetry.given_file import given_file

    try:
        if path.suffix.lower() == ".toml":
            return _toml(path)
        with given_file(path, SidelongError) as file:
            head = file.read(HEAD_BYTES)
    except (OSError, SidelongError):
        return None
    if path.suffix.lower() == ".html":
        return (SeasonKind.REPORT, "") if b"Sidelong" in head else None
    return (SeasonKind.BASELINE, "") if head.startswith(BASELINE_HEAD) else None


def _toml(path: Path) -> tuple[SeasonKind, str] | None:
    """Raises SidelongError where it cannot be read."""
    from telemetry.course import load_course
    from telemetry.file_kind import FileKind, file_kind
    from telemetry.palette_file import read_palette
    from telemetry.reading.load import load_strategy

    kind = file_kind(path)
    if kind is FileKind.PALETTE:
        return SeasonKind.PALETTE, palette_words(read_palette(path))
    if kind is FileKind.STRATEGY:
        return SeasonKind.STRATEGY, load_strategy(str(path)).what
    if kind is FileKind.COURSE:
        return SeasonKind.COURSE, load_course(path).name
    return (SeasonKind.BASELINE, "") if kind is FileKind.BASELINE else None
