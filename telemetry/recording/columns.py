"""Writes columns of samples into HDF5 in blocks, each in the smallest exact form, compressed off the main thread."""

from __future__ import annotations

import zlib
from collections.abc import Mapping
from concurrent.futures import Executor, Future

import h5py
import numpy as np
from h5py import h5d, h5p, h5s, h5t
from numpy.typing import NDArray

from telemetry.recording.layout import BLOCK, FILL, Encoding, dataset_name, is_int, missing, packed, table_dtype, unpacked
from telemetry.sample import Columns

LEVEL = 4
LEVEL_SHORT = 9
BOOT = "boot"


def compress(values: NDArray[np.generic], shuffle: bool, level: int = LEVEL) -> bytes:
    """One chunk as HDF5's shuffle and deflate filters make it."""
    data = values.tobytes()
    if shuffle and values.itemsize > 1:
        data = np.frombuffer(data, np.uint8).reshape(-1, values.itemsize).T.tobytes()
    return zlib.compress(data, level)


def create(
    file: h5py.File,
    name: str,
    dtype: np.dtype[np.generic],
    rows: int,
    chunk: int,
    *,
    grows: bool,
    shuffle: bool,
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

    def write(self, values: NDArray[np.generic], *, last: bool = False) -> None:
        """The next block: full, or the last one, which may be shorter (or empty, for a dataset without values)."""
        if self._id is None:
            self._start(values, alone=last and self._blocks == 0)
        assert self._id is not None
        start = self._blocks * self._block
        if not self._grows:
            start = 0
        elif len(values):
            self._id.set_extent((start + len(values),))
            if len(values) < self._block:
                values = np.concatenate([values, np.full(self._block - len(values), self._fill, self.dtype)])
        if len(values):
            if self._grows:
                self._waiting.append((start, self._pool.submit(compress, values, self._shuffle, self._level)))
            else:
                self._id.write_direct_chunk((0,), compress(values, self._shuffle, LEVEL_SHORT))
        self._blocks += 1
        self._flush(2)

    def finish(self) -> None:
        """Wait until every block is in the file."""
        self._flush(0)

    def _flush(self, keep: int) -> None:
        assert self._id is not None
        while len(self._waiting) > keep:
            start, data = self._waiting.pop(0)
            self._id.write_direct_chunk((start,), data.result())

    def _start(self, values: NDArray[np.generic], *, alone: bool) -> None:
        self._grows = not alone
        sample = values[:4096]
        self._shuffle = self.dtype.itemsize > 1 and len(compress(sample, True)) <= len(compress(sample, False))
        rows = len(values) if alone else self._blocks * self._block
        chunk = max(1, len(values)) if alone else self._block
        self._id = create(
            self._file, self.name, self.dtype, rows, chunk, grows=not alone, shuffle=self._shuffle, fill=self._fill
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
        small = None if is_int(channel) else packed(values)
        encoding = self.encodings.get(channel)
        if channel == BOOT and encoding is None and not values.any():
            return  # a robot that never restarted needs no column to say so
        if encoding is None:
            kind = "int" if is_int(channel) else "float" if small is None else "whole"
            self._begin(Encoding(channel, dataset_name(channel, set(self._file)), kind))
        elif encoding.kind == "whole" and small is None:
            self._widen(encoding)
        encoding = self.encodings[channel]
        if np.any(values == missing(channel) if encoding.kind == "int" else np.isnan(values)):
            self.gappy.add(channel)
        stored = small if encoding.kind == "whole" else values
        assert stored is not None
        self._series[channel].write(stored.astype(encoding.dtype), last=last)

    def _begin(self, encoding: Encoding) -> None:
        fill = FILL if encoding.kind == "whole" else 0 if encoding.channel == BOOT else missing(encoding.channel)
        self.encodings[encoding.channel] = encoding
        if self._blocks:
            self.gappy.add(encoding.channel)
        self._series[encoding.channel] = BlockSeries(
            self._file, encoding.dataset, encoding.dtype, self._most, self._pool, fill=fill, before=self._blocks
        )

    def _widen(self, old: Encoding) -> None:
        """A column that was whole so far has its first fraction: write it anew as floats."""
        self._series[old.channel].finish()
        stored = self._file[old.dataset]
        blocks, self._blocks = self._blocks, 0
        self._file.move(old.dataset, f"{old.dataset} whole")
        self._begin(Encoding(old.channel, old.dataset, "float"))
        for start in range(0, blocks * self._most, self._most):
            self._series[old.channel].write(unpacked(old.channel, "whole", stored[start : start + self._most]))
        del self._file[f"{old.dataset} whole"]
        self._blocks = blocks
