"""The one event loop of everything BLE, in a thread of its own.

bleak ties a device, a scan and its bus to one loop, and wants one loop for a whole program: so all sources and scans share
it, and the threads of the window, the command line and the capture only hand work over.
"""

from __future__ import annotations

import asyncio
import atexit
import threading
from collections.abc import Coroutine
from concurrent.futures import Future
from typing import Any, TypeVar

T = TypeVar("T")


class BackgroundLoop:
    """An event loop in a daemon thread. Starts at once; ``stop`` cancels what still runs on it."""

    def __init__(self, name: str = "sidelong-ble") -> None:
        self._loop = asyncio.new_event_loop()
        self.scan_lock = asyncio.Lock()
        """Held while scanning: a system refuses a second scan at once."""
        self._thread = threading.Thread(target=self._run, name=name, daemon=True)
        self._thread.start()

    def _run(self) -> None:
        asyncio.set_event_loop(self._loop)
        self._loop.run_forever()
        tasks = asyncio.all_tasks(self._loop)
        for task in tasks:
            task.cancel()
        if tasks:
            # bleak's own tasks tell the robot goodbye when they are cancelled.
            self._loop.run_until_complete(asyncio.wait(tasks, timeout=2.0))
        self._loop.run_until_complete(self._loop.shutdown_asyncgens())
        self._loop.close()

    def start(self, work: Coroutine[Any, Any, T]) -> Future[T]:
        """Begin work on the loop from any other thread."""
        return asyncio.run_coroutine_threadsafe(work, self._loop)

    def run(self, work: Coroutine[Any, Any, T]) -> T:
        """Do work on the loop and wait for it; interrupted or failing here, it is cancelled there."""
        future = self.start(work)
        try:
            return future.result()
        except BaseException:
            future.cancel()
            raise

    def stop(self) -> None:
        """End the loop and its thread; may be called twice."""
        if self._thread.is_alive():
            self._loop.call_soon_threadsafe(self._loop.stop)
            self._thread.join(5.0)


_lock = threading.Lock()
_shared: BackgroundLoop | None = None


def shared_loop() -> BackgroundLoop:
    """The program's one BLE loop, started when first asked for."""
    global _shared  # noqa: PLW0603 - bleak wants one loop for a whole program
    with _lock:
        if _shared is None:
            _shared = BackgroundLoop()
            atexit.register(stop_shared_loop)
        return _shared


def stop_shared_loop() -> None:
    """End the shared loop; the next ``shared_loop`` starts another. At the end of a program this comes by itself."""
    global _shared  # noqa: PLW0603
    with _lock:
        if _shared is not None:
            _shared.stop()
            _shared = None
            atexit.unregister(stop_shared_loop)
