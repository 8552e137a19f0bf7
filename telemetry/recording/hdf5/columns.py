"""Writes columns of samples into HDF5 in blocks, each in the smallest exact form, compressed off the main thread."""

from __future__ import annotations

import zlib
from collections.abc import Mapping
from concurrent.futures import Executor, Future
from typing import Final

import h5py
import numpy as np
from h5py import h5d, h5p, h5s, h5t
from numpy.typing import NDArray

from telemetry.recording.channels import is_int
from telemetry.recording.hdf5.layout import (
    BLOCK,
    FILL,
    Encoding,
    dataset_name,
    encoded,
    missing,
    table_dtype,
    unpacked,
)
from telemetry.sample import Columns

LEVEL = 4
BOOT = "boot"
NARROW: Final = {"whole": "float", "milli": "int"}
"""Forms that hold only some values, and the form of the same channel that holds all."""


def compress(values: NDArray[np.generic], shuffle: bool, level: int = LEVEL) -> bytes:
    """One chunk as HDF5's shuffle and deflate filters make it."""
    return zlib.compress(_shuffled(values) if shuffle else values.tobytes(), level)


def compress_best(values: NDArray[np.generic]) -> tuple[bool, bytes]:
    """(shuffle, chunk): the smallest of everything deflate can do; for a chunk that is alone in its dataset."""
    strategies = (zlib.Z_DEFAULT_STRATEGY, zlib.Z_FILTERED, zlib.Z_HUFFMAN_ONLY, zlib.Z_FIXED)
    tried = []
    for shuffle in (False, True)[: values.itemsize]:
        data = _shuffled(values) if shuffle else values.tobytes()
        for strategy in strategies:
            deflate = zlib.compressobj(9, zlib.DEFLATED, zlib.MAX_WBITS, 9, strategy)
            tried.append((shuffle, deflate.compress(data) + deflate.flush()))
    return min(tried, key=lambda one: len(one[1]))


def _shuffled(values: NDArray[np.generic]) -> bytes:
    """First bytes of all values, then second bytes, and so on."""
    return values.view(np.uint8).reshape(-1, values.itemsize).T.tobytes()


def create(
    file: h5py.File,
    name: str,
    dtype: np.dtype[np.generic],
    rows: int,
    chunk: int,
    *,
    shuffle: bool,
    grows: bool = False,
    fill: object = None,
) -> h5d.DatasetID:
    """An empty compressed dataset of one dimension."""
    plist = h5p.create(h5p.DATASET_CREATE)
    plist.set_chunk((chunk,))
    if shuffle:
        plist.set_shuffle()
    plist.set_deflate(LEVEL)
    plist.set_obj_track_times(False)
    if fill is not None:
        plist.set_fill_value(np.array(fill, dtype))
    space = h5s.create_simple((rows,), (h5s.UNLIMITED if grows else rows,))
    return h5d.create(file.id, name.encode(), h5t.py_create(dtype), space, plist)


class BlockSeries:
    """One dataset that is written block after block. ``block``: values a chunk holds in a long recording."""

    def __init__(
        self,
        file: h5py.File,
        name: str,
        dtype: np.dtype[np.generic],
        block: int,
        pool: Executor,
        *,
        fill: object = 0,
        before: int = 0,
        level: int = LEVEL,
    ) -> None:
        self.name, self.dtype, self._block, self._fill = name, dtype, block, fill
        self._file, self._pool, self._level = file, pool, level
        self._id: h5d.DatasetID | None = None
        self._shuffle = False
        self._blocks = before
        self._waiting: list[tuple[int, Future[bytes]]] = []
        self.crc32 = 0
        """Of all values so far, as they lie in the file's type."""
        self.blocks_crc32: list[int] = []
        """Of each block alone."""
        for _ in range(before):
            self._count(np.full(block, fill, dtype))

    def write(self, values: NDArray[np.generic], *, last: bool = False) -> None:
        """The next block: full, or the last one, which may be shorter (or empty, for a dataset without values)."""
        if self._id is None:
            self._start(values, alone=last and self._blocks == 0)
        assert self._id is not None
        self._count(np.ascontiguousarray(values, self.dtype))
        if len(values) and self._grows:
            start = self._blocks * self._block
            self._id.set_extent((start + len(values),))
            if len(values) < self._block:
                values = np.concatenate([values, np.full(self._block - len(values), self._fill, self.dtype)])
            self._waiting.append((start, self._pool.submit(compress, values, self._shuffle, self._level)))
        self._blocks += 1
        self._flush(2)

    def finish(self) -> None:
        """Wait until every block is in the file."""
        self._flush(0)

    def _count(self, values: NDArray[np.generic]) -> None:
        self.crc32 = zlib.crc32(values.data, self.crc32)
        self.blocks_crc32.append(zlib.crc32(values.data))

    def _flush(self, keep: int) -> None:
        assert self._id is not None
        while len(self._waiting) > keep:
            start, data = self._waiting.pop(0)
            self._id.write_direct_chunk((start,), data.result())

    def _start(self, values: NDArray[np.generic], *, alone: bool) -> None:
        self._grows = not alone
        if alone:
            self._shuffle, data = compress_best(values)
            self._id = create(self._file, self.name, self.dtype, len(values), max(1, len(values)), shuffle=self._shuffle)
            if len(values):
                self._id.write_direct_chunk((0,), data)
            return
        sample = values[:4096]
        self._shuffle = self.dtype.itemsize > 1 and len(compress(sample, True)) <= len(compress(sample, False))
        rows = self._blocks * self._block
        self._id = create(
            self._file, self.name, self.dtype, rows, self._block, grows=True, shuffle=self._shuffle, fill=self._fill
        )


class ColumnsWriter:
    """Collects samples and writes every column that turns up, from wherever it first turns up, ``most`` samples a chunk."""

    def __init__(self, file: h5py.File, pool: Executor, most: int = BLOCK) -> None:
        self.rows = 0
        self.encodings: dict[str, Encoding] = {}
        self.gappy: set[str] = set()
        """Channels of which some values are missing."""
        self._file, self._pool, self._most = file, pool, most
        self._series: dict[str, BlockSeries] = {}
        self._block: Columns = {}
        self._filled = 0
        self._blocks = 0

    def append(self, columns: Mapping[str, NDArray[np.generic]], rows: int) -> None:
        """``rows`` new samples; columns that are absent are missing in them."""
        done = 0
        while done < rows:
            count = min(rows - done, self._most - self._filled)
            here = slice(self._filled, self._filled + count)
            for channel, values in columns.items():
                if channel not in self._block:
                    self._block[channel] = np.full(self._most, missing(channel), table_dtype(channel))
                self._block[channel][here] = values[done : done + count]
            self._filled += count
            done += count
            if self._filled == self._most:
                self._write(last=False)
        self.rows += rows

    @property
    def crc32(self) -> dict[str, int]:
        """CRC-32 of each dataset, once all is written."""
        return {series.name: series.crc32 for series in self._series.values()}

    @property
    def blocks_crc32(self) -> dict[str, list[int]]:
        """The same of each chunk, of those with several."""
        return {one.name: one.blocks_crc32 for one in self._series.values() if len(one.blocks_crc32) > 1}

    def finish(self) -> None:
        """Write the rest."""
        self._write(last=True)
        for series in self._series.values():
            series.finish()

    def _write(self, *, last: bool) -> None:
        for channel in self._series.keys() - self._block.keys():
            self._block[channel] = np.full(self._most, missing(channel), table_dtype(channel))
        for channel, values in self._block.items():
            self._write_column(channel, values[: self._filled], last=last)
        self._block = {channel: np.full(self._most, missing(channel), table_dtype(channel)) for channel in self._block}
        self._filled = 0
        self._blocks += 1

    def _write_column(self, channel: str, values: NDArray[np.generic], *, last: bool) -> None:
        if channel == BOOT and channel not in self.encodings and not values.any():
            return  # a robot that never restarted needs no column to say so
        kind, stored = encoded(channel, values)
        encoding = self.encodings.get(channel)
        if encoding is None:
            self._begin(Encoding(channel, dataset_name(channel, set(self._file)), kind))
        elif encoding.kind != kind:
            stored = values
            if encoding.kind in NARROW:
                self._widen(encoding, NARROW[encoding.kind])
        encoding = self.encodings[channel]
        if np.any(values == missing(channel) if is_int(channel) else np.isnan(values)):
            self.gappy.add(channel)
        self._series[channel].write(stored.astype(encoding.dtype), last=last)

    def _begin(self, encoding: Encoding) -> None:
        fill = FILL if encoding.kind == "whole" else 0 if encoding.channel == BOOT else missing(encoding.channel)
        self.encodings[encoding.channel] = encoding
        if self._blocks:
            self.gappy.add(encoding.channel)
        self._series[encoding.channel] = BlockSeries(
            self._file, encoding.dataset, encoding.dtype, self._most, self._pool, fill=fill, before=self._blocks
        )

    def _widen(self, old: Encoding, kind: str) -> None:
        """A column that fitted a narrow form so far has its first value that does not: write it anew."""
        self._series[old.channel].finish()
        stored = self._file[old.dataset]
        blocks, self._blocks = self._blocks, 0
        self._file.move(old.dataset, f"{old.dataset} narrow")
        self._begin(Encoding(old.channel, old.dataset, kind))
        for start in range(0, blocks * self._most, self._most):
            self._series[old.channel].write(unpacked(old.channel, old.kind, stored[start : start + self._most]))
        del self._file[f"{old.dataset} narrow"]
        self._blocks = blocks
