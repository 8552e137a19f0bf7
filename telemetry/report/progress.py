"""How far a long command is: on one line of a terminal; elsewhere (a log, a pipe) in a line of its own now and then."""

from __future__ import annotations

import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Final

from telemetry.safe_text import over_the_line, printable

QUIET_S: Final = 2.0
"""How long nothing is said before it is said that the work goes on."""
EVERY_S: Final = 10.0
"""Where there is no terminal, a line of its own is written so often."""
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


def say_at_the_start(words: str) -> None:
    """What is done, and how long such things take, before they begin; nothing where -q was given."""
    if is_wanted():
        print(words, file=sys.stderr, flush=True)


def _in_its_own_line(words: str, now: float) -> None:
    print(printable(words), file=sys.stderr, flush=True)
    _told["at"] = now


def _left(done: int, total: int, took_s: float) -> str:
    """What is left if it goes on as it went; nothing is promised from little."""
    if not done or took_s < 2.0:
        return ""
    left_s = took_s / done * (total - done)
    return f", about {left_s:.0f} s left" if left_s < 100.0 else f", about {left_s / 60.0:.0f} min left"


def clear_progress() -> None:
    """Take away the line of progress that stands there, if any."""
    if _told["stands"]:
        over_the_line(" " * 78, sys.stderr)
        over_the_line("", sys.stderr)
        _told["stands"] = False


def progress_line(what: str, total: int, *, clock: Callable[[], float] = time.monotonic) -> Callable[[int], None]:
    """A function to be told how many of ``total`` are done.

    On a terminal it shows what takes over 0.5 s; elsewhere it writes a line every EVERY_S seconds.
    """
    begun = clock()
    last = begun
    shown = False

    def tell(done: int) -> None:
        nonlocal last, shown
        now = clock()
        if done >= total and shown:
            clear_progress()
        elif done < total and now - begun > 0.5 and now - last > 0.1 and _shown_here():
            far = f"{what} {done} of {total}{_left(done, total, now - begun)}  (Ctrl-C stops)"
            over_the_line(far[:78].ljust(78), sys.stderr)
            last, shown = now, True
            _told["at"], _told["stands"] = now, True
        elif done < total and now - max(last, _told["at"]) >= EVERY_S and is_wanted() and not sys.stderr.isatty():
            _in_its_own_line(f"{what} {done} of {total}{_left(done, total, now - begun)}", now)
            last = now

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
    """While the block lasts and no progress is told: that the work goes on, and for how long it has.

    Some steps cannot tell how far they are, such as a compiler that works for a minute when it is first used.
    """
    if not is_wanted():
        yield
        return
    over = threading.Event()
    begun = clock()
    terminal = sys.stderr.isatty()

    def watch() -> None:
        while not over.wait(QUIET_S / 2):
            now = clock()
            if over.is_set() or now - max(begun, _told["at"]) < (QUIET_S if terminal else EVERY_S):
                continue
            if terminal:
                over_the_line(f"{what}: {now - begun:.0f} s  (Ctrl-C stops)"[:78].ljust(78), sys.stderr)
            else:
                _in_its_own_line(f"{what}: {now - begun:.0f} s", now)

    watcher = threading.Thread(target=watch, name="signs of life", daemon=True)
    watcher.start()
    try:
        yield
    finally:
        over.set()
        watcher.join()
        if terminal:
            over_the_line(" " * 78, sys.stderr)
            over_the_line("", sys.stderr)


WORKING: Final = "at work"
AT_WORK: Final = "at work (its first use takes up to a minute longer)"
