"""A run that was ended too late: cut into its drives on a thread, while the window goes on."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from gui.model.jobs import Job, Jobs
from telemetry.recording.drives import cut_into_drives

if TYPE_CHECKING:
    from gui.model.messages import Messages
    from gui.model.shelf import Shelf


class Cutting(QObject):
    """One run at a time: ``path``, None while there is none."""

    progressed = Signal(int, int)
    """The drive that is being cut out, of so many."""
    cut = Signal(object, object)
    """Done: the run's path, and those of its drives, which are in its place now."""
    ended = Signal()
    """Done, stopped or failed, which is told."""

    def __init__(self, shelf: Shelf, messages: Messages, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.path: Path | None = None
        self._shelf, self._messages = shelf, messages
        self._jobs = Jobs()
        self._job: Job | None = None
        self._drives: list[Path] = []

    def start(self, path: Path) -> None:
        """Nothing happens while another is being cut."""
        if self.path is not None:
            return
        load = self._shelf.load
        self.path, self._drives = path, []

        def work(job: Job) -> object:
            def goes_on(number: int, of: int) -> bool:
                job.tell(number, of)
                return not job.cancelled

            self._drives = cut_into_drives(load(path), goes_on)
            return None

        self._job = Job(work, self)
        self._job.progressed.connect(self.progressed)
        self._job.finished.connect(self._made)
        self._job.failed.connect(lambda words: self._messages.tell(words, "bad"))
        self._job.ended.connect(self._over)
        self._jobs.start(self._job)

    def stop(self) -> None:
        """The run stays as it is."""
        if self._job is not None:
            self._job.cancel()

    def close(self) -> None:
        self._jobs.close()

    def _made(self, _none: object) -> None:
        path, drives = self.path, self._drives
        if path is None or self._job is None or self._job.cancelled:
            return
        self._drives = []
        self._shelf.put_drives_for(path, drives)
        self.cut.emit(path, drives)

    def _over(self) -> None:
        for drive in self._drives:  # stopped when all were there already
            drive.unlink(missing_ok=True)
        self._drives = []
        self.path = self._job = None
        self.ended.emit()
