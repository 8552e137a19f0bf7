"""An afternoon with hands full: armed once, every drive becomes a run of its own, and the truth is asked for afterwards."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from gui.words import tr
from telemetry.replay.readings import MISSING_READING, Reading
from telemetry.stream.drives import SHORTEST_S

if TYPE_CHECKING:
    from gui.model.follow import Follow
    from gui.model.selection import Selection
    from gui.sound import Voice

class PracticeSession(QObject):
    """Watches the live run: it moves, a run begins; it rests, the run is kept. ``waiting``: runs without a truth."""

    changed = Signal()

    def __init__(self, selection: Selection, follow: Follow, voice: Voice, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._selection, self._follow = selection, follow
        self.armed = False
        self.waiting: list[Path] = []
        self.count = 0
        self.voice = voice
        self._own = False
        self._told = 0
        follow.grew.connect(self._grew)
        follow.kept.connect(self._kept)
        follow.state_changed.connect(self._link_changed)

    def arm(self, on: bool) -> None:
        """Armed: runs are cut by motion. Disarmed: a run in progress is kept at once."""
        if on == self.armed:
            return
        self.armed = on
        if not on and self._own and self._follow.recording:
            self._end()
        self.changed.emit()

    def _grew(self, _new: int) -> None:
        follow = self._follow
        run = follow.run
        if run is None:
            return
        if self.armed and run.moving and not follow.recording:
            follow.start_recording()
            self._own = True
            self._told = 0
            self.voice.say(tr("run {number}", number=self.count + 1), "begun")
        elif self._own and follow.recording and not run.moving:
            self._end()
        if follow.recording:
            self._say_readings()

    def _end(self) -> None:
        follow = self._follow
        self._own = False
        run = follow.run
        if run is not None and run.drove_s < SHORTEST_S:
            follow.drop_recording()
            return
        follow.stop_recording()

    def _say_readings(self) -> None:
        run = self._follow.run
        assert run is not None
        readings = run.readings
        for _row, reading in readings[self._told :]:
            slots = self._selection.course.slots
            name = slots[reading.slot].name if reading.slot is not None else tr("surplus")
            self.voice.say(f"{name}: {_said(reading)}", "read")
        self._told = max(self._told, len(readings))

    def _kept(self, path: object) -> None:
        assert isinstance(path, Path)
        self.count += 1
        self.waiting.append(path)
        self.voice.say(tr("kept"), "kept")
        self.changed.emit()

    def _link_changed(self) -> None:
        if not self._follow.recording:
            self._own = False

    def settled(self, path: Path) -> None:
        """The truth of this run was said, or left for later."""
        if path in self.waiting:
            self.waiting.remove(path)
            self.changed.emit()

    def cut_up(self, path: Path, drives: list[Path]) -> None:
        """This run was several drives: they wait in its place."""
        place = self.waiting.index(path) if path in self.waiting else len(self.waiting)
        self.waiting[place : place + 1] = drives
        self.count += len(drives) - 1
        self.changed.emit()


def _said(reading: Reading) -> str:
    """A slot decided to be empty is no missed one."""
    if reading.colour is not None:
        return reading.colour
    return tr("missing") if reading.how == MISSING_READING else tr("empty")
