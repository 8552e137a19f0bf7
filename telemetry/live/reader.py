"""Follows a capture: takes in what is new, finds its runs, reads the one in progress, and forgets what nobody needs."""

from __future__ import annotations

from collections import deque
from typing import Final

from telemetry.live.readings import LiveReadings
from telemetry.live.tail import tail
from telemetry.recording.follow import Follower
from telemetry.replay.readings import Reading
from telemetry.sample import Line, SampleTable
from telemetry.stream.drives import RunDetector, RunFound

AT_ONCE: Final = 64
"""So many pieces at most are taken in at one call, so that a view stays responsive while it catches up."""
KEEP_ROWS: Final = 100_000
"""So many of the newest samples are kept between runs: a quarter of an hour at 100 a second."""
MOST_ROWS: Final = 400_000
"""So many are kept of a run that does not end (about 40 MB): what was read in it stays read."""
MOST_CONSOLE: Final = 10_000


class LiveReader:
    """``readings``: what is read from ``from_row`` on; None: nothing is.

    Rows count from the beginning of the stream, whatever is forgotten. With ``detector`` its runs are found. Memory stays
    flat: of a stream of ten hours the newest samples are kept, and those of the run in progress.
    """

    def __init__(
        self, follower: Follower, readings: LiveReadings | None = None, detector: RunDetector | None = None
    ) -> None:
        self.follower = follower
        self._console: deque[Line] = deque(maxlen=MOST_CONSOLE)
        self.readings = readings
        self.detector = detector
        self.from_row = 0
        """Where the run in progress begins: the readings count from here."""
        self.holds = detector is None
        """The run in progress is one until it is said to be over, whether the robot moves or not."""

    @property
    def table(self) -> SampleTable:
        """The samples that are kept."""
        return self.follower.table

    def poll(self) -> int:
        """Take in what is new; how many samples came. Raises RecordingError or StorageError."""
        before = self.table.stop
        for _ in range(AT_ONCE):
            if not self.follower.poll():
                break
            self._console.extend(self.table.console)
            self.table.console.clear()
        return self.table.stop - before

    def console(self) -> list[Line]:
        """What the robot has printed beside its stream since the last call."""
        lines = list(self._console)
        self._console.clear()
        return lines

    def detect(self) -> list[RunFound]:
        """Runs that have ended within what is new."""
        return self.detector.advance(self.table) if self.detector is not None else []

    def begin_at(self, row: int, readings: LiveReadings | None = None) -> None:
        """A run begins at this row: ``readings`` are made from there on."""
        self.from_row, self.readings = row, readings

    def read(self) -> list[tuple[str, Reading]]:
        """(strategy, reading) of every reading that is new; their rows count from ``from_row``."""
        if self.readings is None:
            return []
        return self.readings.advance(tail(self.table, self.from_row))

    def finish(self) -> list[tuple[str, Reading]]:
        """What is decided at the end of the run."""
        return self.readings.finish(tail(self.table, self.from_row)) if self.readings is not None else []

    def forget(self) -> None:
        """Let go of samples that no reading and no run needs any more; what was read stays."""
        table = self.table
        began = self.detector.began if self.detector is not None else None
        begun = min(self.from_row, began or self.from_row) if self.holds or began is not None else None
        most = KEEP_ROWS if begun is None else min(max(KEEP_ROWS, table.stop - begun), MOST_ROWS)
        if table.rows > most + most // 2:
            table.forget(table.stop - most)
            if self.readings is not None:
                self.readings.forget(table.first - self.from_row)
        table.rejected.clear()

    def close(self) -> None:
        """Let go of the file. May be called twice."""
        self.follower.close()
