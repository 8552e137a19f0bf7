"""The built-in robot as a source in this process: its lines come at their times, by a clock that is passed in."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator

from telemetry.sources.source import EndOfStream
from telemetry.sources.synthetic.run import SimulatedRun

_LINES_AT_ONCE = 512
_TOUCH_S = 1e-6  # a clock that is stepped by sums of floats may stop just short of the time


class SyntheticRobot:
    """Plays ``runs`` one after the other, ``speed_up`` times as fast as they were driven.

    ``clock`` gives monotonic seconds and ``sleep`` waits so many; tests and demonstrations pass their own. The time of the
    first run begins with ``open()``.
    """

    def __init__(
        self,
        runs: Iterable[SimulatedRun],
        *,
        name: str = "robot",
        speed_up: float = 1.0,
        clock: Callable[[], float] = time.monotonic,
        sleep: Callable[[float], None] = time.sleep,
    ) -> None:
        self._runs = runs
        self._name = name
        self._speed_up = speed_up
        self._clock = clock
        self._sleep = sleep
        self._due: Iterator[tuple[float, bytes]] | None = None
        self._next: tuple[float, bytes] | None = None
        self._begin_s = 0.0

    @property
    def where(self) -> str:
        return self._name

    def open(self) -> None:
        """Start the first run now."""
        self._due = self._timetable()
        self._next = next(self._due, None)
        self._begin_s = self._clock()

    def _timetable(self) -> Iterator[tuple[float, bytes]]:
        """(seconds since the opening, line) in order."""
        ended_ms = 0.0
        for run in self._runs:
            for at_ms, line in zip(run.at_ms.tolist(), run.lines, strict=True):
                yield (ended_ms + at_ms) / 1000.0 / self._speed_up, line
            ended_ms += float(run.at_ms[-1]) if len(run.at_ms) else 0.0

    def read(self, timeout_s: float) -> bytes:
        """All lines that are due; waits for the first of them."""
        if self._due is None or self._next is None:
            raise EndOfStream
        now = self._clock() - self._begin_s
        if self._next[0] > now:
            self._sleep(min(timeout_s, self._next[0] - now))
            now = self._clock() - self._begin_s
        ready: list[bytes] = []
        while self._next is not None and self._next[0] <= now + _TOUCH_S and len(ready) < _LINES_AT_ONCE:
            ready.append(self._next[1])
            self._next = next(self._due, None)
        return b"".join(ready)

    def close(self) -> None:
        self._due = None
        self._next = None
