"""A run read for a question about it: at once where that takes no longer than a blink, else on a thread."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from gui.model.jobs import Job, Jobs
from telemetry.recording.drives import drives_in

if TYPE_CHECKING:
    from gui.model.messages import Messages
    from gui.model.shelf import Shelf
    from telemetry.recording.load import Recording


@dataclass(frozen=True, slots=True)
class ReadRun:
    """``recording`` None: it cannot be read, which is told. ``drives``: how many runs it looks like."""

    path: Path
    recording: Recording | None = None
    drives: int = 1


class RunReader:
    """Reads one run at a time: ``path``, None while there is none. Who asks for another gets that one only."""

    def __init__(self, shelf: Shelf, messages: Messages, jobs: Jobs) -> None:
        self.path: Path | None = None
        self._shelf, self._messages = shelf, messages
        self._jobs = jobs

    def read(self, path: Path, then: Callable[[ReadRun], object]) -> None:
        """Give it to ``then``."""

        def look(_job: Job | None = None) -> ReadRun:
            recording = self._shelf.load(path)
            return ReadRun(path, recording, drives_in(recording))

        def done(run: ReadRun) -> None:
            if self.path == path:
                self.path = None
                then(run)

        def failed(words: str) -> None:
            self._messages.tell(words, "bad")
            done(ReadRun(path))

        self.path = path
        if self._shelf.loads_at_once(path):
            done(self._messages.attempt(look) or ReadRun(path))
            return
        job = Job(look)
        job.finished.connect(done)
        job.failed.connect(failed)
        self._jobs.start(job)
