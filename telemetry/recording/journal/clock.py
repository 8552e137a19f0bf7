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

    def slept_ns(self) -> int:
        """Nanoseconds that the computer has slept in all since it was switched on and that ``steady_ns`` left out."""


class SystemClock:
    """The computer's own clocks."""

    def steady_ns(self) -> int:
        """See Clock."""
        return time.monotonic_ns()

    def unix_ns(self) -> int:
        """See Clock."""
        return time.time_ns()

    def slept_ns(self) -> int:
        """See Clock. Linux and macOS tell; on Windows the steady clock itself runs on in sleep, so nothing is left out."""
        # (counts sleep, leaves it out): Linux, macOS. The system's own clocks, so that setting the wall clock is no sleep.
        for with_sleep, without in (("CLOCK_BOOTTIME", "CLOCK_MONOTONIC"), ("CLOCK_MONOTONIC", "CLOCK_UPTIME_RAW")):
            if hasattr(time, with_sleep) and hasattr(time, without):
                return time.clock_gettime_ns(getattr(time, with_sleep)) - time.clock_gettime_ns(getattr(time, without))
        return 0


class ArrivalClock:
    """Unix nanoseconds on a steady clock, anchored when made.

    ``slept_ns()`` tells how long the computer has slept since it was last asked; the anchor moves on by that much. What
    the wall clock is set to meanwhile changes nothing.
    """

    def __init__(self, clock: Clock, *, least_ns: int = 3_000_000_000) -> None:
        self._clock = clock
        self._least_ns = least_ns
        self._anchor_ns = clock.unix_ns() - clock.steady_ns()
        self._slept_ns = clock.slept_ns()

    def now_ns(self) -> int:
        """Unix nanoseconds, never going back."""
        return self._clock.steady_ns() + self._anchor_ns

    def slept_ns(self) -> int:
        """0, or how long the computer slept (at least ``least_ns``) since the last call."""
        slept = self._clock.slept_ns() - self._slept_ns
        if slept < self._least_ns:
            return 0
        self._slept_ns += slept
        self._anchor_ns += slept
        return slept
