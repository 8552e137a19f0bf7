"""Many numbers at once: fields of text as floats, eight characters in one 64-bit word.

Exactly what ``float()`` gives, or nothing: up to 16 digits make a whole number that a float holds (or rounds once, as
``float()`` does), and that, divided by a power of ten that a float holds, is the nearest float there is (Clinger, 'How to
read floating point numbers accurately', PLDI 1990). The multiplications that turn eight digits into a number are common
practice, no source.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]
Words = NDArray[np.uint64]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

FRONT: Final = 16
"""Bytes that must stand before the first field, so that a word can end with it."""
_COMMA, _MINUS, _POINT, _ZERO = 44, 45, 46, 48


def _each(byte: int) -> np.uint64:
    return np.uint64(int.from_bytes(bytes([byte]) * 8, "little"))


_KEEP: Final = np.array([(((1 << 64) - 1) << (64 - 8 * k)) & ((1 << 64) - 1) for k in range(9)], np.uint64)
"""By length of a field: the bytes of a word that are its own, the last ones."""
_FILL: Final = np.array([int(_each(_ZERO)) & ~int(keep) for keep in _KEEP], np.uint64)
_TENS: Final = 10.0 ** np.arange(9)
_ONES, _HIGH, _ZEROS, _POINTS, _UPPER, _SIX, _DIGIT = map(_each, (1, 0x80, _ZERO, _POINT, 0xF0, 6, 0x0F))
_PAIRS: Final = np.uint64(0x000000FF000000FF)
_FIRST, _SECOND = np.uint64(0x000F424000000064), np.uint64(0x0000271000000001)
_ONE, _SEVEN, _EIGHT, _SIXTEEN, _HALF, _TEN = (np.uint64(k) for k in (1, 7, 8, 16, 32, 10))


class Fields:
    """The fields of a run of lines made flat: commas between all of them, ``width`` a line; arrays of shape (lines,)."""

    def __init__(self, run: bytes, width: int) -> None:
        self.text = b"," * FRONT + run
        self.data = np.frombuffer(self.text, np.uint8)
        ends = np.append(np.flatnonzero(self.data[FRONT:] == _COMMA) + FRONT, len(self.data))
        starts = np.empty_like(ends)
        starts[0] = FRONT
        starts[1:] = ends[:-1] + 1
        self.starts, self.ends = starts.reshape(-1, width), ends.reshape(-1, width)
        self._words: Words = np.ndarray((len(self.data) - 7,), "<u8", self.text, strides=(1,))

    def text_of(self, line: int, column: int) -> str:
        """One field."""
        return self.text[self.starts[line, column] : self.ends[line, column]].decode("ascii")

    def keys(self, column: int) -> tuple[Words, Flags]:
        """Each field of a column as one number, and whether it is too long for that."""
        ends = self.ends[:, column]
        sizes = ends - self.starts[:, column]
        return self._words[ends - 8] & _KEEP[np.minimum(sizes, 8)], sizes > 8

    def numbers(self, columns: slice | list[int]) -> tuple[Floats, Flags]:
        """(values, flags) of columns, of shape (lines, columns): NaN for an empty field; flagged: to be read otherwise."""
        starts, ends = self.starts[:, columns].ravel(), self.ends[:, columns].ravel()
        negative = self.data[np.minimum(starts, len(self.data) - 1)] == _MINUS
        sizes = ends - starts - negative
        values, odd = self._short(ends, np.minimum(sizes, 8))
        long = np.flatnonzero(sizes > 8)
        if len(long):
            high, odd_too = self._short(ends[long] - 8, np.minimum(sizes[long] - 8, 8))
            odd[long] |= odd_too | (sizes[long] > 16) | self._pointed(ends[long], sizes[long])
            with np.errstate(invalid="ignore"):
                low, high = values[long].astype(np.uint64), high.astype(np.uint64)
            values[long] = (high * np.uint64(100_000_000) + low).astype(np.float64)
        odd |= negative & (sizes < 1)
        values[sizes == 0] = np.nan
        np.negative(values, out=values, where=negative)
        shape = (len(self.starts), -1)
        return values.reshape(shape), odd.reshape(shape)

    def _pointed(self, ends: Ints, sizes: Ints) -> Flags:
        """Whether a long field has a point among its last sixteen characters."""
        return _points(self._words[ends - 8]) | (_points(self._words[ends - 16] & _KEEP[np.clip(sizes - 8, 0, 8)]))

    def _short(self, ends: Ints, sizes: Ints) -> tuple[Floats, Flags]:
        """The numbers in the ``sizes`` (0 to 8) characters before ``ends``, without sign; flags: no such number."""
        words = (self._words[ends - 8] & _KEEP[sizes]) | _FILL[sizes]
        other = words ^ _POINTS
        marks = (other - _ONES) & ~other & _HIGH
        pointed = np.flatnonzero(marks)
        decimals: Ints | None = None
        if len(pointed):
            first = marks[pointed] & (~marks[pointed] + _ONE)
            below = (first >> _SEVEN) - _ONE
            word = words[pointed]
            words[pointed] = (word & ~((first << _ONE) - _ONE)) | ((word & below) << _EIGHT) | np.uint64(_ZERO)
            decimals = 7 - (np.log2(first.astype(np.float64)).astype(np.int64) >> 3)
        upper = (words & _UPPER) == _ZEROS
        odd = ~(upper & (((words + _SIX) & _UPPER) == _ZEROS))
        digits = words & _DIGIT
        digits = digits * _TEN + (digits >> _EIGHT)
        digits = ((digits & _PAIRS) * _FIRST + ((digits >> _SIXTEEN) & _PAIRS) * _SECOND) >> _HALF
        values = digits.astype(np.float64)
        if decimals is not None:
            values[pointed] /= _TENS[decimals]
            odd[pointed] |= sizes[pointed] < 2
        return values, odd


def _points(words: Words) -> Flags:
    other = words ^ _POINTS
    found: Flags = ((other - _ONES) & ~other & _HIGH) != 0
    return found
