"""Lines from another process's pipe, waited for so long at most.

Elsewhere than on Windows the system itself waits (``select``); there it cannot wait for pipes, so a thread does.
"""

from __future__ import annotations

import os
import queue
import select
import threading
import time
from contextlib import suppress
from typing import IO

_READ = 1 << 16


class WaitedLines:
    """``next(timeout_s)``: the next line; empty at the end of the pipe; None when time is up."""

    def __init__(self, pipe: IO[bytes]) -> None:
        self._pipe = pipe
        self._held = b""
        self._lines: queue.Queue[bytes] = queue.Queue()
        if os.name == "nt":
            threading.Thread(target=self._listen, name="expendable", daemon=True).start()

    def next(self, timeout_s: float) -> bytes | None:
        """See the class."""
        if os.name == "nt":
            try:
                return self._lines.get(timeout=timeout_s)
            except queue.Empty:
                return None
        until = time.monotonic() + timeout_s
        while b"\n" not in self._held:
            ready, _, _ = select.select([self._pipe], [], [], max(0.0, until - time.monotonic()))
            if not ready:
                return None
            data = os.read(self._pipe.fileno(), _READ)
            if not data:
                return b""
            self._held += data
        line, _, self._held = self._held.partition(b"\n")
        return line

    def _listen(self) -> None:
        with suppress(OSError, ValueError):
            for line in self._pipe:
                self._lines.put(line)
        self._lines.put(b"")
