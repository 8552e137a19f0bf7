"""Processes of our own, where that is faster than doing it here."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing import get_context

WORTH_A_PROCESS = 120
"""Up to this many replays one process is faster than starting others."""


@contextmanager
def one_a_core(replays: int, cores: int | None = None) -> Iterator[Executor | None]:
    """One process a core (at most ``cores``); None where that does not pay for so many ``replays``."""
    count = min(cores or _cores(), replays // WORTH_A_PROCESS + 1)
    if count < 2:
        yield None
        return
    # Spawned, not forked: the same on every system, and no lock of a library is copied in mid-use.
    pool = ProcessPoolExecutor(count, get_context("spawn"), _leave_interrupts)
    try:
        yield pool
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def _leave_interrupts() -> None:
    """Ctrl-C is the parent's business."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def _cores() -> int:
    affinity = getattr(os, "sched_getaffinity", None)
    return len(affinity(0)) if affinity else os.cpu_count() or 1
