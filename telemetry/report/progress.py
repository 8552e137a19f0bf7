"""How far a long command is, on one line of a terminal."""

from __future__ import annotations

import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Final

from telemetry.safe_text import over_the_line

QUIET_S: Final = 2.0
"""How long nothing is said before it is said that the work goes on."""
_told: Final[dict[str, float]] = {"at": 0.0, "stands": False}
"""When a line of progress was last shown, by the clock that showed it; whether it stands there."""
_wanted: Final = {"progress": True}


def show_progress(wanted: bool) -> None:
    """Whether it is shown, from now on, how far the work is."""
    _wanted["progress"] = wanted


def is_wanted() -> bool:
    """Whether any progress is to be shown."""
    return _wanted["progress"]


def _shown_here() -> bool:
    return is_wanted() and sys.stderr.isatty()


def clear_progress() -> None:
    """Take away the line of progress that stands there, if any."""
    if _told["stands"]:
        over_the_line(" " * 70, sys.stderr)
        over_the_line("", sys.stderr)
        _told["stands"] = False


def progress_line(what: str, total: int, *, clock: Callable[[], float] = time.monotonic) -> Callable[[int], None]:
    """A function to be told how many of ``total`` are done. Shows on a terminal only, and only what takes over 0.5 s."""
    begun = clock()
    last = begun
    shown = False

    def tell(done: int) -> None:
        nonlocal last, shown
        now = clock()
        if done >= total and shown:
            clear_progress()
        elif done < total and now - begun > 0.5 and now - last > 0.1 and _shown_here():
            over_the_line(f"{what} {done} of {total}  (Ctrl-C stops)"[:78], sys.stderr)
            last, shown = now, True
            _told["at"], _told["stands"] = now, True

    return tell


def steps_line(*, clock: Callable[[], float] = time.monotonic) -> Callable[[str, int, int], None]:
    """As ``progress_line``, for work in several steps: told what is being done, how much of it is done, and of how much."""
    tellers: dict[str, Callable[[int], None]] = {}

    def tell(what: str, done: int, of: int) -> None:
        if what not in tellers:
            tellers[what] = progress_line(what, of, clock=clock)
        tellers[what](done)

    return tell


@contextmanager
def signs_of_life(what: str, *, clock: Callable[[], float] = time.monotonic) -> Iterator[None]:
    """While the block lasts and no progress is told: that the work goes on, and for how long it has. On a terminal only.

    Some steps cannot tell how far they are, such as a compiler that works for a minute when it is first used.
    """
    if not _shown_here():
        yield
        return
    over = threading.Event()
    begun = clock()

    def watch() -> None:
        while not over.wait(QUIET_S / 2):
            if clock() - max(begun, _told["at"]) >= QUIET_S and not over.is_set():
                over_the_line(f"{what}: {clock() - begun:.0f} s  (Ctrl-C stops)"[:78].ljust(78), sys.stderr)

    watcher = threading.Thread(target=watch, name="signs of life", daemon=True)
    watcher.start()
    try:
        yield
    finally:
        over.set()
        watcher.join()
        over_the_line(" " * 78, sys.stderr)
        over_the_line("", sys.stderr)


WORKING: Final = "at work"
AT_WORK: Final = "at work (its first use takes up to a minute longer)"
