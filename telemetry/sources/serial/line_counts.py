"""What the computer's own serial driver has counted: bytes that came and found no room, and those that came damaged.

Linux only (TIOCGICOUNT, ``struct serial_icounter_struct`` of <linux/serial.h>); elsewhere, and where a driver does not
count, nothing is known.
"""

from __future__ import annotations

import struct
import sys
from dataclasses import dataclass
from typing import Final

_TIOCGICOUNT: Final = 0x545D
_COUNTS: Final = struct.Struct("20i")
"""cts dsr rng dcd rx tx frame overrun parity brk buf_overrun, and nine in reserve."""


@dataclass(frozen=True, slots=True)
class LineCounts:
    """Since the driver was loaded. ``overruns``: bytes lost for want of room, each count one byte at least."""

    overruns: int
    damaged: int

    def since(self, before: LineCounts) -> LineCounts:
        """What was added; the driver's counters wrap at 32 bits."""
        return LineCounts((self.overruns - before.overruns) & 0xFFFFFFFF, (self.damaged - before.damaged) & 0xFFFFFFFF)


def line_counts(descriptor: int) -> LineCounts | None:
    """What the driver of an open port has counted so far; None where it does not tell."""
    try:
        told = _ask(descriptor)
    except OSError:
        return None
    if told is None:
        return None
    counts = _COUNTS.unpack(told)
    frame, overrun, parity, buffer_overrun = counts[6], counts[7], counts[8], counts[10]
    return LineCounts(overrun + buffer_overrun, frame + parity)


def _ask(descriptor: int) -> bytes | None:
    """The structure as the driver fills it. Raises OSError where it has none."""
    if sys.platform != "linux":
        return None
    import fcntl

    return fcntl.ioctl(descriptor, _TIOCGICOUNT, bytes(_COUNTS.size))
