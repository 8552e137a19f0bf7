"""What has been read and is not yet in the journal: bounded, in memory, so that a slow disk does not stop the reading."""

from __future__ import annotations

import threading
from collections import deque
from typing import Final

from telemetry.recording.journal.records import RecordKind

Item = tuple[RecordKind, int, bytes]
LIMIT_BYTES: Final = 32 << 20
"""About 13 minutes at 1,000 lines/s."""


class Backlog:
    """A queue between the thread that reads and the one that writes."""

    def __init__(self, limit_bytes: int = LIMIT_BYTES) -> None:
        self._limit = limit_bytes
        self._items: deque[Item] = deque()
        self._bytes = 0
        self._closed = False
        self._changed = threading.Condition()

    @property
    def size(self) -> int:
        """Bytes waiting."""
        return self._bytes

    def put(self, kind: RecordKind, arrival_ns: int, payload: bytes) -> bool:
        """Add one; False where the backlog is full or closed (nothing was added)."""
        with self._changed:
            if self._closed or (kind is RecordKind.BYTES and self._bytes + len(payload) > self._limit and self._items):
                return False
            self._items.append((kind, arrival_ns, payload))
            self._bytes += len(payload)
            self._changed.notify_all()
            return True

    def wait_for_room(self, timeout_s: float) -> None:
        """Return when something was taken out, or it was closed, or time is up."""
        with self._changed:
            before = len(self._items)
            self._changed.wait_for(lambda: self._closed or len(self._items) < before, timeout_s)

    def take(self, timeout_s: float) -> list[Item]:
        """All that waits, as soon as there is any; empty when time is up or it was closed and is empty."""
        with self._changed:
            self._changed.wait_for(lambda: self._closed or bool(self._items), timeout_s)
            items = list(self._items)
            self._items.clear()
            self._bytes = 0
            self._changed.notify_all()
            return items

    @property
    def finished(self) -> bool:
        """Closed and empty."""
        return self._closed and not self._items

    def give_up(self) -> None:
        """Nobody takes any more: what waits is let go."""
        with self._changed:
            self._closed = True
            self._items.clear()
            self._bytes = 0
            self._changed.notify_all()

    def close(self) -> None:
        """Nothing more comes; what waits can still be taken."""
        with self._changed:
            self._closed = True
            self._changed.notify_all()
