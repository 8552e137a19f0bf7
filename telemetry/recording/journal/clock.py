"""When bytes arrived: a steady clock, set to Unix time once, so that nobody's clock setting makes times jump in a run."""

from __future__ import annotations

import time
from typing import Protocol


class Clock(Protocol):
    """Where a capture takes its times from; tests bring their own."""

    def steady_ns(self) -> int:
        """Nanoseconds that only ever go on; may stand still while the computer sleeps."""

    def unix_ns(self) -> int:
        """Nanoseconds since 1970 by the computer's wall clock; jumps when it is set."""


class SystemClock:
    """The computer's own clocks."""

    def steady_ns(self) -> int:
        """See Clock."""
        return time.monotonic_ns()

    def unix_ns(self) -> int:
        """See Clock."""
        return time.time_ns()


class ArrivalClock:
    """Unix nanoseconds on a steady clock, anchored when made.

    ``slept_ns()`` tells how far the wall clock has run ahead of the steady one since it was last asked: the computer
    slept, or its clock was set forward. Then the anchor moves on by that much; it never moves back.
    """

    def __init__(self, clock: Clock, *, least_ns: int = 3_000_000_000) -> None:
        self._clock = clock
        self._least_ns = least_ns
        self._anchor_ns = clock.unix_ns() - clock.steady_ns()

    def now_ns(self) -> int:
        """Unix nanoseconds, never going back."""
        return self._clock.steady_ns() + self._anchor_ns

    def slept_ns(self) -> int:
        """0, or how long the computer slept (at least ``least_ns``) since the last call."""
        ahead = self._clock.unix_ns() - self._clock.steady_ns() - self._anchor_ns
        if ahead < self._least_ns:
            return 0
        self._anchor_ns += ahead
        return ahead
