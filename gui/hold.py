"""The sign that a window looks after a capture: a lock, given back by the system itself however the window ends."""

from __future__ import annotations

from gui.processes import Watch
from telemetry.recording.lock import try_lock


class Hold:
    """``taken`` False: another window that is alive has it; that one's capture must be left alone."""

    def __init__(self, watch: Watch) -> None:
        self._file = watch.hold.open("ab")
        self.taken = try_lock(self._file.fileno())

    def release(self) -> None:
        """May be called twice."""
        self._file.close()
