"""What the window is about, put together once: settings, messages, what is in use, the folder, the link, the runs.

Each part is handed only to who needs it; a place gets them all and hands them on. Nothing heavy is loaded when this is made:
the first picture of the window must not wait for it.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal
from PySide6.QtGui import QUndoStack

from gui.model.choices import Choices
from gui.model.code_consent import CodeConsent
from gui.model.folder import RunFolder
from gui.model.messages import Messages
from gui.model.robots import Robots
from gui.model.season import Season, SeasonKind
from gui.model.selection import Selection
from gui.model.settings import UserSettings
from gui.theme import LIGHT, Theme
from gui.words import tr

if TYPE_CHECKING:
    from gui.model.follow import Follow
    from gui.model.lot import Lot
    from gui.model.shelf import Shelf
    from gui.model.standings import Standings
    from telemetry.replay.evaluate import Evaluator


class Workspace(QObject):
    """Link, runs and standings are made when they are first asked for, and joined here: they do not know each other."""

    theme_changed = Signal(object)
    wanted = Signal(str, object)
    """Go to a place, with something to show there (or None)."""

    def __init__(self, settings: UserSettings, folder: Path, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.settings = settings
        self.messages = Messages(self)
        self.code = CodeConsent()
        self.folder = RunFolder(settings, folder)
        self.season = Season()
        self.selection = Selection(settings, self.messages, self.code, self._strategies_here, self)
        self.robots = Robots(settings)
        self.undo = QUndoStack(self)
        self.choices = Choices(self.selection, self.messages, self.undo)
        self.theme: Theme = LIGHT
        self._follow: Follow | None = None
        self._shelf: Shelf | None = None
        self._standings: Standings | None = None
        self._lot: Lot | None = None
        self._evaluator: Evaluator | None = None

    def go(self, place: str, what: object = None) -> None:
        self.wanted.emit(place, what)

    def _strategies_here(self) -> list[str]:
        """The strategy files in the folder, the oldest first."""
        return [str(one.path.resolve()) for one in reversed(self.season.files(self.folder.path, SeasonKind.STRATEGY))]

    def use_folder(self, folder: Path) -> bool:
        """Keep and show runs in another folder from now on; not while a robot is connected, which is told."""
        if self.folder.is_at(folder):
            return True
        if self.follow.connected:

            def move() -> None:
                self.follow.disconnect_robot()
                if self.use_folder(folder):
                    self.go("runs")

            words = tr("A robot's runs go to {folder} now: disconnect it first.", folder=self.folder.path)
            action = tr("Disconnect, and show {name}", name=folder.name)
            self.messages.tell(words, "warn", action=action, does=move, cause="connected")
            return False
        self.folder.move(folder)
        self.undo.clear()  # nobody means runs that are out of sight
        self.messages.tell(tr("Runs are shown from {folder}, and kept there, from now on.", folder=self.folder.path))
        self.shelf.move_in()
        self.follow.find_running()
        return True

    @property
    def follow(self) -> Follow:
        """The robot link and the run that is being captured."""
        if self._follow is None:
            from gui.model.follow import Follow

            self._follow = Follow(self.selection, self.folder, self.robots, self.messages, self)
        return self._follow

    @property
    def shelf(self) -> Shelf:
        """The recorded runs."""
        if self._shelf is None:
            from gui.model.shelf import Shelf

            self._shelf = Shelf(self.folder, self.selection, self.messages, self.undo, self)
            self._shelf.relabelled.connect(self._forget_standing)  # before anybody who asks how the run stands
            self.follow.kept.connect(lambda _path: self.shelf.refresh())
        return self._shelf

    @property
    def lot(self) -> Lot:
        """The next layout."""
        if self._lot is None:
            from gui.model.lot import Lot

            self._lot = Lot(self.selection, self.shelf, self)
        return self._lot

    @property
    def evaluator(self) -> Evaluator:
        """Remembers the results of all places."""
        if self._evaluator is None:
            from telemetry.replay.evaluate import Evaluator

            self._evaluator = Evaluator()
        return self._evaluator

    @property
    def standings(self) -> Standings:
        """How each run stands with the strategy in use."""
        if self._standings is None:
            from gui.model.standings import Standings

            self._standings = Standings(self.selection, self.evaluator, self)
        return self._standings

    def _forget_standing(self, path: Path) -> None:
        if self._standings is not None:
            self._standings.forget(path)

    def close(self) -> None:
        """Stop whatever runs in the background."""
        self.undo.blockSignals(True)  # it would tell of its own end when those who listen are gone
        if self._follow is not None:
            self._follow.close()
        if self._standings is not None:
            self._standings.close()
        if self._shelf is not None:
            self._shelf.close()
        self.settings.save()
