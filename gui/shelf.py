"""The recorded runs in the folder, as lists and cards show them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

if TYPE_CHECKING:
    from gui.workspace import Workspace


@dataclass(frozen=True, slots=True)
class Entry:
    """One run in a list."""

    path: Path
    words: str


class Shelf(QObject):
    """TODO"""

    changed = Signal()

    def __init__(self, workspace: Workspace, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.workspace = workspace

    def refresh(self) -> None:
        pass

    def latest(self, count: int) -> list[Entry]:
        found = sorted(self.workspace.folder.glob("*.h5"), reverse=True) if self.workspace.folder.exists() else []
        return [Entry(path, path.stem) for path in found[:count]]

    def ingest(self, path: Path) -> Path:
        return path

    def close(self) -> None:
        pass
