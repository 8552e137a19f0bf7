"""Bytes and whole numbers that come one by one, collected into the blocks of a dataset."""

from __future__ import annotations

from concurrent.futures import Executor

import h5py
import numpy as np

from telemetry.recording.hdf5.columns import LEVEL, BlockSeries


class ByteSeries:
    """One dataset of bytes, ``most`` a chunk; ``kind`` ``u1`` numbers or ``S1`` characters."""

    def __init__(self, file: h5py.File, name: str, kind: str, pool: Executor, most: int) -> None:
        self.count = 0
        self._most = most
        self._dtype = np.dtype(kind)
        self._waiting = bytearray()
        self._series = BlockSeries(file, name, self._dtype, most, pool, fill=self._dtype.type(), level=LEVEL)

    def add(self, data: bytes) -> None:
        """Append."""
        self._waiting += data
        self.count += len(data)
        while len(self._waiting) >= self._most:
            self._series.write(np.frombuffer(bytes(self._waiting[: self._most]), self._dtype))
            del self._waiting[: self._most]

    def finish(self) -> None:
        """Write the rest."""
        self._series.write(np.frombuffer(bytes(self._waiting), self._dtype), last=True)
        self._series.finish()

    @property
    def crc32(self) -> int:
        """Of all that is in the dataset."""
        return self._series.crc32

    @property
    def all_of_it(self) -> bytes | None:
        """Everything so far, while it is short; then nothing of it is in the file yet."""
        return bytes(self._waiting) if self.count == len(self._waiting) else None


class NumberSeries:
    """One dataset of 64-bit whole numbers, ``most`` a chunk."""

    def __init__(self, file: h5py.File, name: str, pool: Executor, most: int) -> None:
        self.count = 0
        self._most = most
        self._waiting: list[int] = []
        self._series = BlockSeries(file, name, np.dtype("<i8"), most, pool)

    def add(self, *values: int) -> None:
        """Append; ``most`` is a multiple of how many come at once."""
        self._waiting += values
        self.count += len(values)
        if len(self._waiting) == self._most:
            self._series.write(np.array(self._waiting, "<i8"))
            self._waiting.clear()

    @property
    def crc32(self) -> int:
        """Of all that is in the dataset."""
        return self._series.crc32

    @property
    def all_of_it(self) -> bytes | None:
        """Everything so far, little-endian, while it is little; then nothing of it is in the file yet."""
        return np.array(self._waiting, "<i8").tobytes() if self.count == len(self._waiting) else None

    def finish(self) -> None:
        """Write the rest."""
        self._series.write(np.array(self._waiting, "<i8"), last=True)
        self._series.finish()
