"""The robot's counters, made to run on: wraps taken out, restarts told apart, small steps back left as they are.

A counter that falls back is a restart, unless ``#wrap`` was announced and it fell by more than half of that count. A step
back of at most SLIP that keeps more than half of the value is no restart (a robot that has just restarted counts from
near 0): two lines changed places, or a clock was set. The value is kept as sent, and it is said.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]

SLIP_US: Final = 100_000
SLIP_LINES: Final = 8
WHOLE_MAX: Final = float(1 << 53)
"""Counters stay below what a float holds exactly."""

_SINGLY: Final = 64

ON, WRAPPED, SLIPPED, FELL = range(4)


class Counter:
    """One counter. ``modulus``: the count at which it starts again from 0, None: never."""

    __slots__ = ("last", "modulus", "offset", "slip")

    def __init__(self, slip: int) -> None:
        self.slip = slip
        self.modulus: int | None = None
        self.last: int | None = None
        self.offset = 0

    def step(self, raw: int) -> int:
        """What the next value ``raw`` means: ON, WRAPPED, SLIPPED (state unchanged) or FELL."""
        last, modulus = self.last, self.modulus
        if last is None:
            self.last = raw
            return ON
        step = raw - last
        if step >= 0:
            if modulus is not None and self.offset and modulus - min(self.slip, modulus // 4) <= step <= modulus:
                return SLIPPED
            self.last = raw
            return ON
        if modulus is not None and 2 * -step > modulus:
            self.offset += modulus
            self.last = raw
            return WRAPPED
        if -step <= self.slip and 2 * raw > last:
            return SLIPPED
        self.start(raw)
        return FELL

    def start(self, raw: int) -> None:
        """Count from here anew."""
        self.last = raw
        self.offset = 0

    def value(self, raw: int) -> int:
        """``raw`` with the wraps so far taken out; also for a note that came a little early or late."""
        modulus = self.modulus
        if modulus is not None and self.last is not None:
            step = raw - self.last
            if 2 * -step > modulus:
                return raw + self.offset + modulus
            if self.offset and 2 * step > modulus:
                return raw + self.offset - modulus
        return raw + self.offset


class Counters:
    """Robot time and running number together: one restart when either falls. ``say(key, sentence)`` takes the remarks."""

    def __init__(self, say: Callable[[str, str], None]) -> None:
        self.t = Counter(SLIP_US)
        self.n = Counter(SLIP_LINES)
        self.boot = 0
        self.lost = 0
        self.slips = 0
        self._say = say

    def step(self, t_us: int, n: int, row: int) -> tuple[int, int]:
        """Take one line's counters (``n`` -1: not sent); gives them with wraps taken out. ``row``: samples before it."""
        t, lines = self.t, self.n
        t_before, n_before = t.last, lines.last
        t_event = t.step(t_us)
        n_event = lines.step(n) if n >= 0 else ON
        if t_event == ON and n_event == ON:
            if n >= 0 and n_before is not None and n > n_before:
                self.lost += n - n_before - 1
            return t_us + t.offset, n + lines.offset if n >= 0 else -1
        if FELL in {t_event, n_event}:
            if t_event in {WRAPPED, FELL}:  # what looked like a wrap of the other counter was the same restart
                t.start(t_us)
            if n >= 0 and n_event in {WRAPPED, FELL}:
                lines.start(n)
            if t_event == FELL:
                what = f"its clock fell from {(t_before or 0) / 1e6:.3f} s to {t_us / 1e6:.3f} s"
            else:
                what = f"its running number fell from {n_before} to {n}"
            self._restart(what, row)
            return t_us + t.offset, n + lines.offset if n >= 0 else -1
        if n_event == WRAPPED:
            self.lost += n + (lines.modulus or 0) - (n_before or 0) - 1
        elif n_event == ON and n >= 0 and n_before is not None and n > n_before:
            self.lost += n - n_before - 1
        if t_event == SLIPPED:
            self._slip(t_us, t_before or 0, row)
        return t.value(t_us), lines.value(n) if n >= 0 else -1

    def run(self, t_us: Ints, n: Ints | None, row: int) -> tuple[Ints, Ints | None, Ints]:
        """The same for many lines at once, shape (rows,) each: time, running number, boot."""
        times, numbers, boots = np.empty_like(t_us), np.full_like(t_us, -1), np.empty_like(t_us)
        counts = n if n is not None and n.max() >= 0 else None
        done = 0
        while done < len(t_us):
            rest = slice(done, None)
            plain = self._goes_on(self.t, t_us[rest])
            if counts is not None:
                plain = min(plain, self._goes_on(self.n, counts[rest]))
            here = slice(done, done + plain)
            if plain:
                times[here] = t_us[here] + self.t.offset
                self.t.last = int(t_us[here.stop - 1])
                if counts is not None:
                    numbers[here] = self._counted(counts[here])
                boots[here] = self.boot
            # Some lines after one that does not go on are taken singly: counters that fall all the time stay cheap.
            done = min(here.stop + _SINGLY, len(t_us))
            for i in range(here.stop, done):
                times[i], numbers[i] = self.step(int(t_us[i]), -1 if counts is None else int(counts[i]), row + i)
                boots[i] = self.boot
        return times, None if n is None else numbers, boots

    def _counted(self, n: Ints) -> Ints:
        """Running numbers that go on, with wraps taken out; lines that are missing among them are lost."""
        before = n[0] - 1 if self.n.last is None else self.n.last
        self.lost += int(np.maximum(np.diff(n, prepend=before) - 1, 0).sum())
        self.n.last = int(n[-1])
        return n + self.n.offset

    @staticmethod
    def _goes_on(counter: Counter, raw: Ints) -> int:
        """In how many values from the first on nothing but plain counting on happens."""
        if raw[0] < 0:
            return 0
        steps = np.diff(raw, prepend=raw[0] if counter.last is None else counter.last)
        other = steps < 0
        if counter.modulus is not None:
            other |= 2 * steps > counter.modulus
        first = int(other.argmax())
        return first if other[first] else len(raw)

    def _restart(self, what: str, row: int) -> None:
        self.boot += 1
        hint = " If it did not, its counter wraps: let it send #wrap." if self.boot == 1 else ""
        self._say(f"restart {self.boot}", f"The robot restarted after {row} samples: {what}.{hint}")

    def _slip(self, t_us: int, before: int, row: int) -> None:
        self.slips += 1
        back = (before - t_us) / 1000
        if self.t.modulus is not None and back < 0:
            back += self.t.modulus / 1000
        text = f"The robot's time jumped back by {back:g} ms after {row} samples: kept as sent, not taken for a restart."
        self._say("slip", text)
