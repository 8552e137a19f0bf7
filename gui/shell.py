"""Puts the window together: settings, folder, look; the same for the command, the screenshots and the tests."""

from __future__ import annotations

import os
from pathlib import Path

from gui.model.settings import UserSettings
from gui.model.workspace import Workspace
from gui.window import Window

FOLDER_VARIABLE = "SIDELONG_RUNS"


def runs_folder(settings: UserSettings, asked: Path | None) -> Path:
    """Where runs are kept: as asked, as the environment says, as last time, in ``runs`` here, else in the user's home."""
    if asked is not None:
        return asked.expanduser().resolve()
    if os.environ.get(FOLDER_VARIABLE):
        return Path(os.environ[FOLDER_VARIABLE]).expanduser().resolve()
    last = settings.text("folder")
    if last:
        return Path(last)
    here = Path("runs")
    return here.resolve() if here.is_dir() else Path.home() / "Sidelong runs"


def make_window(settings_path: Path | None = None, folder: Path | None = None, look: str | None = None) -> Window:
    """The window, not shown yet."""
    settings = UserSettings(settings_path)
    chosen = runs_folder(settings, folder)
    settings.set_text("folder", str(chosen))
    window = Window(Workspace(settings, chosen))
    window.set_look(look or settings.text("look", "system"))
    return window
