"""The folder whose runs are shown, and into which new ones are kept."""

from __future__ import annotations

from pathlib import Path

from gui.model.settings import UserSettings


class RunFolder:
    """``path``: where it is. It is another one after ``move``, so whoever works on a thread takes the path with it."""

    def __init__(self, settings: UserSettings, path: Path) -> None:
        self._settings = settings
        self.path = path

    def is_at(self, path: Path) -> bool:
        return path.resolve() == self.path.resolve()

    def move(self, path: Path) -> None:
        """Another folder from now on, and after the next start."""
        self.path = path.resolve()
        self._settings.set_text("folder", str(self.path))
