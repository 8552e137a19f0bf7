"""Follow a run while it is captured, or read it when it is over: the same object, the same samples.

For a team's own script::

    from telemetry.recording.follow import Follower

    run = Follower("runs/today.h5")
    while run.state == "growing":
        if run.poll():
            print(run.table.rows, run.table.columns["dist"][-1])
        else:
            time.sleep(0.02)

Any number of followers, in any process, may watch one capture; none of them can disturb it.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import Literal

from telemetry.recording.assemble import Assembler, Gap, Mark, StreamSummary
from telemetry.recording.journal.reader import JournalReader
from telemetry.recording.journal.records import Record, journal_path, recording_path
from telemetry.recording.journal.trail import Trail
from telemetry.recording.meta import Meta
from telemetry.sample import SampleTable

State = Literal["growing", "ended", "abandoned"]


class Follower:
    """``path``: the recording (it need not exist yet, its journal must) or the journal itself.

    ``poll()`` takes in what is new and says whether there was anything. ``state`` is ``growing`` while a capture writes,
    ``ended`` when it was closed and ``abandoned`` when it was broken off without an end. ``table`` holds the samples,
    ``meta`` the labels, ``gaps`` and ``marks`` what their names say, ``summary`` the counts.

    ``keep_samples=False`` keeps no samples: ``table`` then holds only what the last poll brought, in constant memory.
    Raises RecordingError or StorageError.
    """

    def __init__(self, path: Path | str, *, keep_samples: bool = True, clock: Callable[[], float] = time.monotonic) -> None:
        self.path = Path(path)
        self.table = SampleTable()
        self.state: State = "growing"
        self.keeps_samples = keep_samples
        self._clock = clock
        self._assembler = Assembler()
        self.trail = Trail()
        """Where to read on in the journal, for cutting a run out of it."""
        self._reader: JournalReader | None = None
        self._summary: StreamSummary | None = None
        self._meta: Meta | None = None
        self._asked = clock()
        journal = journal_path(self.path)
        if journal.exists() or self.path == journal:
            try:
                self._reader = JournalReader(journal)
            except Exception:
                # It may have become a recording this very moment.
                if not recording_path(journal).exists():
                    raise
        if self._reader is None:
            self.path = recording_path(journal)

    @property
    def meta(self) -> Meta:
        """The labels."""
        return self._meta or self._assembler.meta

    @property
    def summary(self) -> StreamSummary:
        """Counts, gaps, marks, remarks."""
        return self._summary or self._assembler.summary

    @property
    def gaps(self) -> list[Gap]:
        """Where bytes are missing."""
        return self.summary.gaps

    @property
    def marks(self) -> list[Mark]:
        """Moments that the user marked."""
        return self.summary.marks

    @property
    def link_is_down(self) -> bool:
        """Whether the link to the robot is away at this moment, as far as the journal says."""
        gaps = self.summary.gaps
        return self.state == "growing" and bool(gaps) and gaps[-1].until_us is None

    def silent_s(self, now_us: int) -> float:
        """Seconds since the last bytes arrived, at Unix time ``now_us``; 0 before the first."""
        return max(0.0, (now_us - self.summary.last_us) / 1e6) if self.summary.last_us else 0.0

    def poll(self) -> bool:
        """Take in what is new (a bounded piece at once). True: there was something, ask again."""
        if self.state != "growing":
            return False
        if self._reader is None:
            return self._whole()
        records = self._reader.read()
        if not records:
            return self._nothing()
        if not self.keeps_samples:
            self.table = SampleTable()
        self._take(records)
        self.trail.pass_by(records, self._reader.place, self._reader.number)
        self._assembler.summary.damage = list(self._reader.damage)
        if self._reader.ended:
            self._finish("ended")
        return True

    def close(self) -> None:
        """Let go of the file. May be called twice."""
        if self._reader is not None:
            self._reader.close()

    def _whole(self) -> bool:
        from telemetry.recording.load import load  # and with it HDF5, which a capture that still grows does not need

        recording = load(self.path)
        self.table, self._summary, self._meta = recording.table, recording.summary, recording.meta
        self.state = "ended" if recording.summary.end else "abandoned"
        return True

    def _nothing(self) -> bool:
        assert self._reader is not None
        # Whether anybody still writes costs a system call; nobody needs to know it more often than this.
        if self._clock() - self._asked < 0.25:
            return False
        self._asked = self._clock()
        if self._reader.has_writer or self._reader.find_again():
            return False
        # The writer may have written its last words between our reading and our asking.
        records = self._reader.read()
        while True:
            self._take(records)
            records = self._reader.read(final=True)
            if not records:
                break
        self._assembler.summary.damage = list(self._reader.damage)
        self._finish("ended" if self._reader.ended else "abandoned")
        return True

    def _take(self, records: list[Record]) -> None:
        for _, chunks in self._assembler.feed_many(records):
            for chunk in chunks:
                self.table.append(chunk)

    def _finish(self, state: State) -> None:
        for chunk in self._assembler.finish():
            self.table.append(chunk)
        self.state = state
        self.close()
