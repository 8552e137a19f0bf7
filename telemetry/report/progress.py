"""How far a long command is, on one line of a terminal."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable

from telemetry.safe_text import over_the_line


def progress_line(what: str, total: int, *, clock: Callable[[], float] = time.monotonic) -> Callable[[int], None]:
    """A function to be told how many of ``total`` are done. Shows on a terminal only, and only what takes over 0.5 s."""
    begun = clock()
    last = begun
    shown = False

    def tell(done: int) -> None:
        nonlocal last, shown
        now = clock()
        if done >= total and shown:
            over_the_line(" " * 70, sys.stderr)
            over_the_line("", sys.stderr)
        elif done < total and now - begun > 0.5 and now - last > 0.1 and sys.stderr.isatty():
            over_the_line(f"{what} {done} of {total}  (Ctrl-C stops)"[:78], sys.stderr)
            last, shown = now, True

    return tell


def steps_line(*, clock: Callable[[], float] = time.monotonic) -> Callable[[str, int, int], None]:
    """As ``progress_line``, for work in several steps: told what is being done, how much of it is done, and of how much."""
    tellers: dict[str, Callable[[int], None]] = {}

    def tell(what: str, done: int, of: int) -> None:
        if what not in tellers:
            tellers[what] = progress_line(what, of, clock=clock)
        tellers[what](done)

    return tell
