"""Sources for tests: what arrives, when it drops and when it ends is all written down beforehand."""

from __future__ import annotations

import threading
from collections.abc import Iterable

from telemetry.sources.source import EndOfStream


class Scripted:
    """Gives the pieces one after the other; an exception among them is raised, an Event is waited for."""

    where = "a scripted robot"

    def __init__(self, script: Iterable[bytes | Exception | threading.Event]) -> None:
        self._script = iter(script)
        self._waiting: threading.Event | None = None
        self.closed = 0

    def open(self) -> None:
        """Nothing to do."""

    def read(self, timeout_s: float) -> bytes:
        if self._waiting is not None and not self._waiting.wait(timeout_s):
            return b""
        self._waiting = None
        try:
            item = next(self._script)
        except StopIteration:
            raise EndOfStream from None
        if isinstance(item, threading.Event):
            self._waiting = item
            return b""
        if isinstance(item, Exception):
            raise item
        return item

    def close(self) -> None:
        self.closed += 1
