"""Tables of saved runs whose samples are in memory as far as they fit: the rest is read again when asked for."""

from __future__ import annotations

import threading
from collections import OrderedDict
from pathlib import Path

from telemetry.errors import RecordingError
from telemetry.recording.load import load
from telemetry.replay.evaluate.keys import Stamp, stamp_of
from telemetry.replay.judge import longest_stretch
from telemetry.sample import Columns, SampleTable

MOST_ROWS = 2_500_000
"""So many samples of saved runs are in memory at once, about 250 MB: somewhat more than a sweep lays end to end."""


class KeptTable(SampleTable):
    """A table that is the longest stretch of a recording's; its columns are read from the file when they are asked for.

    Sent to another process, it is read there. Raises RecordingError where the recording holds another run meanwhile.
    """

    def __init__(self, path: Path, table: SampleTable) -> None:
        """``table``: what the recording holds, between two restarts of the robot; its samples are let go of."""
        self.__dict__.update({name: value for name, value in vars(table).items() if name != "columns"})
        self._path, self._stamp, self._names = path, stamp_of(path), tuple(table.columns)
        _samples.keep(self._stamp, table.columns, table.rows)

    @property
    def columns(self) -> Columns:  # type: ignore[override]
        """As in any table."""
        found = _samples.find(self._stamp)
        if found is None:
            found = self._read()
            _samples.keep(self._stamp, found, self.rows)
        return found

    def _read(self) -> Columns:
        table = load(self._path).table
        stretch = longest_stretch(table)
        if stretch.stop - stretch.start != self.rows or tuple(table.columns) != self._names:
            raise RecordingError("it was changed while it was worked with", where=str(self._path), todo="Begin again")
        return {name: column[stretch.start : stretch.stop] for name, column in table.columns.items()}


class _Samples:
    """The columns of the tables used last, up to MOST_ROWS samples; safe for threads."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._kept: OrderedDict[Stamp, tuple[Columns, int]] = OrderedDict()
        self.rows = 0

    def find(self, stamp: Stamp) -> Columns | None:
        with self._lock:
            if stamp not in self._kept:
                return None
            self._kept.move_to_end(stamp)
            return self._kept[stamp][0]

    def keep(self, stamp: Stamp, columns: Columns, rows: int) -> None:
        with self._lock:
            self.rows += rows - self._kept.pop(stamp, ({}, 0))[1]
            self._kept[stamp] = columns, rows
            while self.rows > MOST_ROWS and len(self._kept) > 1:
                self.rows -= self._kept.popitem(last=False)[1][1]


_samples = _Samples()
