"""Processes of our own, where that is faster than doing it here."""

from __future__ import annotations

import gc
import os
import signal
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import BrokenExecutor, Executor, Future, ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing import get_context, parent_process
from multiprocessing.connection import wait
from multiprocessing.util import Finalize
from typing import Any, TypeVar

from telemetry.logbook import begin_log
from telemetry.own_program import import_nothing_from_here

T = TypeVar("T")

WORTH_A_PROCESS = 120
"""Up to this many replays one process is faster than starting others."""


@contextmanager
def one_a_core(replays: int, cores: int | None = None) -> Iterator[Executor | None]:
    """One process a core (at most ``cores``); None where that does not pay for so many ``replays``."""
    count = min(cores or _cores(), replays // WORTH_A_PROCESS + 1)
    if count < 2:
        yield None
        return
    pool = Renewed(count)
    try:
        yield pool
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


class Renewed(Executor):
    """Processes that are started anew after one has died; what they were at then is lost, what comes later is not."""

    def __init__(self, count: int) -> None:
        self._count = count
        self._pool = self._start()

    def submit(self, fn: Callable[..., T], /, *args: Any, **kwargs: Any) -> Future[T]:
        """As any executor."""
        try:
            return self._pool.submit(fn, *args, **kwargs)
        except BrokenExecutor:
            self._pool.shutdown(wait=False, cancel_futures=True)
            self._pool = self._start()
            return self._pool.submit(fn, *args, **kwargs)

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """As any executor."""
        self._pool.shutdown(wait=wait, cancel_futures=cancel_futures)

    def _start(self) -> ProcessPoolExecutor:
        import_nothing_from_here()
        # Spawned, not forked: the same on every system, and no lock of a library is copied in mid-use.
        return ProcessPoolExecutor(self._count, get_context("spawn"), _begin)


def collect_seldom() -> None:
    """For a process that makes many results: they are in no circles, and looking for some took a tenth of the time."""
    gc.set_threshold(20_000, 20, 100)


def _begin() -> None:
    """Ctrl-C is the parent's business; and when the parent ends, however that happens, its workers end too."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    collect_seldom()
    # The last of all: to take a whole interpreter apart, compiler included, has its parent wait for nothing.
    Finalize(None, os._exit, args=(0,), exitpriority=-100)
    begin_log()
    threading.Thread(target=_end_with_parent, name="parent", daemon=True).start()


def _end_with_parent() -> None:
    parent = parent_process()
    if parent is not None:
        wait([parent.sentinel])
        os._exit(0)


def _cores() -> int:
    affinity = getattr(os, "sched_getaffinity", None)
    return len(affinity(0)) if affinity else os.cpu_count() or 1
