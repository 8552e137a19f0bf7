"""A source whose pieces come one by one, so that each is an append of its own."""

from __future__ import annotations

import time

from telemetry.sources.source import EndOfStream


class Paced:
    """A millisecond between two pieces."""

    where = "a paced robot"

    def __init__(self, pieces: list[bytes], pause_s: float = 0.001) -> None:
        self._pieces = iter(pieces)
        self._pause_s = pause_s

    def open(self) -> None:
        """Nothing to do."""

    def read(self, timeout_s: float) -> bytes:
        time.sleep(self._pause_s)
        try:
            return next(self._pieces)
        except StopIteration:
            raise EndOfStream from None

    def close(self) -> None:
        """Nothing to do."""
