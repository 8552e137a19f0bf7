"""Bytes and whole numbers that come one by one, collected into the blocks of a dataset."""

from __future__ import annotations

from concurrent.futures import Executor

import h5py
import numpy as np

from telemetry.recording.columns import LEVEL, BlockSeries
from telemetry.recording.layout import RAW_BLOCK, READ_BLOCK


class ByteSeries:
    """One dataset of bytes; ``kind`` ``u1`` numbers or ``S1`` characters."""

    def __init__(self, file: h5py.File, name: str, kind: str, pool: Executor) -> None:
        self.count = 0
        self._dtype = np.dtype(kind)
        self._waiting = bytearray()
        self._series = BlockSeries(file, name, self._dtype, RAW_BLOCK, pool, fill=self._dtype.type(), level=LEVEL)

    def add(self, data: bytes) -> None:
        """Append."""
        self._waiting += data
        self.count += len(data)
        while len(self._waiting) >= RAW_BLOCK:
            self._series.write(np.frombuffer(bytes(self._waiting[:RAW_BLOCK]), self._dtype))
            del self._waiting[:RAW_BLOCK]

    def finish(self) -> None:
        """Write the rest."""
        self._series.write(np.frombuffer(bytes(self._waiting), self._dtype), last=True)
        self._series.finish()

    @property
    def all_of_it(self) -> bytes | None:
        """Everything so far, while it is short; then nothing of it is in the file yet."""
        return bytes(self._waiting) if self.count == len(self._waiting) else None


class NumberSeries:
    """One dataset of 64-bit whole numbers."""

    def __init__(self, file: h5py.File, name: str, pool: Executor) -> None:
        self.count = 0
        self._waiting: list[int] = []
        self._series = BlockSeries(file, name, np.dtype("<i8"), READ_BLOCK, pool)

    def add(self, *values: int) -> None:
        """Append; READ_BLOCK is a multiple of how many come at once."""
        self._waiting += values
        self.count += len(values)
        if len(self._waiting) == READ_BLOCK:
            self._series.write(np.array(self._waiting, "<i8"))
            self._waiting.clear()

    def finish(self) -> None:
        """Write the rest."""
        self._series.write(np.array(self._waiting, "<i8"), last=True)
        self._series.finish()
