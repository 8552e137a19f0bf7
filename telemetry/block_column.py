"""Columns of hours: read block by block where they are asked for, never all at once unless somebody asks for all.

A run of three hours at 1 kHz has ten million samples; as arrays its columns fill a gigabyte. ``BlockColumn`` stands in for
such an array: a stretch of it (``column[a:b]``) is an array, made of the blocks it touches.
"""

from __future__ import annotations

import os
import threading
from collections import OrderedDict
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

LONG_ROWS: Final = 1 << 20
"""Recordings with more samples are read block by block; shorter ones are read whole, which takes a tenth of a second."""
KEPT_BLOCKS: Final = 4
"""Blocks of a column that are kept after they were read: stepping on by hand reads each once."""
PIECE_ROWS: Final = 1 << 18
"""So many rows at once go through a calculation over a whole column: 2 MB a column fit a processor's cache."""
WORTH_A_THREAD: Final = 8

Array = NDArray[Any]


class BlockColumn(np.lib.mixins.NDArrayOperatorsMixin):
    """A read-only column of ``rows`` values in blocks of ``block``; ``read(number)`` makes one block, from any thread.

    Whatever is not a stretch, a value or its length is asked of the whole array, which is then made for that one question.
    """

    ndim = 1

    def __init__(self, rows: int, dtype: np.dtype[Any], block: int, read: Callable[[int], Array]) -> None:
        self.dtype = dtype
        self.shape = (rows,)
        self.size = rows
        self.block = block
        self._read = read
        self._lock = threading.Lock()
        self._kept: OrderedDict[int, Array] = OrderedDict()

    def __len__(self) -> int:
        return self.size

    def __getitem__(self, key: Any) -> Any:
        if isinstance(key, slice):
            start, stop, step = key.indices(self.size)
            return self._stretch(start, max(start, stop)) if step == 1 else np.asarray(self)[key]
        if isinstance(key, int | np.integer):
            row = int(key) + self.size * (key < 0)
            if not 0 <= row < self.size:
                raise IndexError(f"row {key} of {self.size}")
            return self._block(int(row // self.block))[row % self.block]
        rows = np.asarray(key)
        if rows.dtype.kind in "iu" and rows.ndim == 1 and len(rows) and rows.min() >= 0 and rows.max() < self.size:
            return self._picked(rows)
        return np.asarray(self)[key]

    def __array__(self, dtype: Any = None, copy: bool | None = None) -> Array:
        whole = self._stretch(0, self.size)
        return whole if dtype is None else whole.astype(dtype, copy=False)

    def __array_ufunc__(self, ufunc: np.ufunc, method: str, *inputs: Any, **kwargs: Any) -> Any:
        plain = [np.asarray(one) if isinstance(one, BlockColumn) else one for one in inputs]
        return getattr(ufunc, method)(*plain, **kwargs)

    def __getattr__(self, name: str) -> Any:
        if name.startswith("_"):
            raise AttributeError(name)
        return getattr(np.asarray(self), name)

    def _block(self, number: int) -> Array:
        with self._lock:
            found = self._kept.get(number)
            if found is not None:
                self._kept.move_to_end(number)
                return found
        made = self._read(number)
        with self._lock:
            self._kept[number] = made
            while len(self._kept) > KEPT_BLOCKS:
                self._kept.popitem(last=False)
        return made

    def _stretch(self, start: int, stop: int) -> Array:
        out = np.empty(stop - start, self.dtype)
        if stop == start:
            return out
        first, last = start // self.block, (stop - 1) // self.block

        def fill(number: int) -> None:
            begin, end = max(number * self.block, start), min((number + 1) * self.block, stop)
            whole = end - begin == self.block and last - first >= KEPT_BLOCKS
            values = self._read(number) if whole else self._block(number)
            out[begin - start : end - start] = values[begin - number * self.block : end - number * self.block]

        in_threads(fill, range(first, last + 1))
        return out

    def _picked(self, rows: Array) -> Array:
        out = np.empty(len(rows), self.dtype)
        numbers = rows // self.block
        for number in np.unique(numbers).tolist():
            here = numbers == number
            out[here] = self._block(number)[rows[here] - number * self.block]
        return out


def pieces(rows: int, piece: int = PIECE_ROWS, *, start: int = 0) -> Iterator[tuple[int, int]]:
    """(start, stop) of one stretch after the other, over all rows from ``start`` on."""
    for start in range(start, rows, piece):  # noqa: B020, PLR1704
        yield start, min(start + piece, rows)


def first_row(columns: Sequence[Array], rows: int, holds: Callable[..., Array]) -> int:
    """The first row for which ``holds(a stretch of each column)`` is true; ``rows`` where none is. Reads no further."""
    size = 1 << 6  # mostly it is one of the first
    start = 0
    while start < rows:
        stop = min(start + size, rows)
        true = holds(*(column[start:stop] for column in columns))
        if true.any():
            return start + int(true.argmax())
        start, size = stop, min(size * 8, PIECE_ROWS)
    return rows


def in_threads(work: Callable[[int], object], numbers: Sequence[int], *, least: int = WORTH_A_THREAD) -> None:
    """``work`` for each number, on all cores where there are ``least`` or more; raises what one of them raises."""
    if len(numbers) < least or threading.current_thread().name.startswith(_NAME):
        for number in numbers:
            work(number)
        return
    share = -(-len(numbers) // (4 * _cores()))

    def some(start: int) -> None:
        for number in numbers[start : start + share]:
            work(number)

    with ThreadPoolExecutor(_cores(), thread_name_prefix=_NAME) as pool:
        for done in [pool.submit(some, start) for start in range(0, len(numbers), share)]:
            done.result()


_NAME = "column"


def _cores() -> int:
    return min(os.cpu_count() or 1, 4)
