"""Many lines at once: which of a block are plain samples, and their fields as arrays.

A short cut only. Whatever is not plain here, down to a single line, is left to the exact way of one line at a time; where
both apply they agree, which tests hold.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from telemetry.stream.columns import Header
from telemetry.stream.counters import WHOLE_MAX
from telemetry.stream.digits import Fields
from telemetry.stream.garbage import PLAIN
from telemetry.stream.line import LINE_MAX
from telemetry.stream.numbers import NAN

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]
Floats = NDArray[np.float64]

_HEX = np.full(256, 255, dtype=np.uint8)
for _digit in "0123456789abcdefABCDEF":
    _HEX[ord(_digit)] = int(_digit, 16)
_NEWLINE, _STAR = 10, 42
_UNKNOWN = -2


class Marks(NamedTuple):
    """Where the lines of a block are, shape (lines,) each.

    ``good``: may be a sample, its checksum holds; ``starred``: it has one. ``separators`` counts them in each line.
    """

    starts: Ints
    ends: Ints
    separators: Ints
    good: Flags
    starred: Flags


def separator_of(block: bytes) -> bytes | None:
    """The one separator of lines without a header; None where lines differ or spaces come in runs."""
    if b";" in block:
        return None if b"," in block else b";"
    if b"," in block:
        return b","
    if b"\t" in block:
        return b"\t"
    runs = (b"  ", b"\n ", b" \n", b" *")
    return None if block[:1] == b" " or block[-1:] == b" " or any(run in block for run in runs) else b" "


def mark(block: bytes, separator: bytes) -> Marks:
    """Lines of ``block``: separated by LF, none empty, no LF at the end."""
    data = np.frombuffer(block, dtype=np.uint8)
    ends = np.append(np.flatnonzero(data == _NEWLINE), len(data))
    starts = np.empty_like(ends)
    starts[0] = 0
    starts[1:] = ends[:-1] + 1
    sizes = ends - starts
    first = data[starts]
    good = (sizes <= LINE_MAX) & (first != ord("#")) & (first != ord("!"))
    if block.translate(None, PLAIN + b"\n" + separator):
        plain = np.zeros(256, dtype=np.bool_)
        plain[list(PLAIN + b"\n" + separator)] = True
        good[np.searchsorted(ends, np.flatnonzero(~plain[data]))] = False
    separators = np.diff(np.searchsorted(np.flatnonzero(data == separator[0]), ends), prepend=0)
    starred = _check(data, starts, ends, sizes, good) if b"*" in block else np.zeros(len(ends), dtype=np.bool_)
    return Marks(starts, ends, separators, good, starred)


def _check(data: NDArray[np.uint8], starts: Ints, ends: Ints, sizes: Ints, good: Flags) -> Flags:
    """Which lines end in a star and two more; those whose checksum fails, or with another star, leave ``good``."""
    starred: Flags = (sizes >= 3) & (data[np.maximum(ends - 3, 0)] == _STAR)
    stars = np.flatnonzero(data == _STAR)
    if len(stars) != int(starred.sum()):
        good[np.diff(np.searchsorted(stars, ends), prepend=0) != starred] = False
    if not starred.any():
        return starred
    high, low = data[np.maximum(ends - 2, 0)], data[ends - 1]
    claimed = (_HEX[high] << 4) | _HEX[low]
    counted = np.bitwise_xor.reduceat(data, starts) ^ _STAR ^ high ^ low
    counted[:-1] ^= _NEWLINE
    digits = (_HEX[high] != 255) & (_HEX[low] != 255)
    good[starred & ~(digits & (claimed == counted))] = False
    return starred


def leave_open_ends(block: bytes, marks: Marks, separator: bytes) -> None:
    """Lines without a header lose empty fields at their end (``split_plain``): those that end so leave ``good``."""
    data = np.frombuffer(block, dtype=np.uint8)
    last = np.maximum(marks.ends - np.where(marks.starred, 4, 1), 0)
    marks.good[data[last] == separator[0]] = False


def table_for(separator: bytes) -> bytes:
    """The translation that makes one flat list of fields of a run of lines; a checksum becomes a field of its own."""
    return bytes.maketrans(b"*\n" + separator, b",,,")


def fields_of(run: bytes, header: Header, starred: bool, index: dict[str, int]) -> tuple[list[Floats], Flags]:
    """The fields of a run (made flat by ``table_for``) as one array a column, as sent; colours through ``index``.

    Each of shape (lines,). The flags say in which lines a field is not plain; its value is then meaningless.
    """
    fields = Fields(run, len(header.columns) + starred)
    odd = np.zeros(len(fields.starts), dtype=np.bool_)
    numeric = [i for i, column in enumerate(header.columns) if column.kind != "colour"]
    values, strange = fields.numbers(slice(len(header.columns)) if len(numeric) == len(header.columns) else numeric)
    for line, place in np.argwhere(strange).tolist():
        values[line, place], odd_too = _number(fields.text_of(line, numeric[place]))
        odd[line] |= odd_too
    arrays: list[Floats] = [np.empty(0)] * len(header.columns)
    for place, i in enumerate(numeric):
        arrays[i] = np.ascontiguousarray(values[:, place])
    for i, column in enumerate(header.columns):
        if column.kind == "colour":
            arrays[i] = _colours(fields, i, index)
            odd |= arrays[i] == _UNKNOWN
    return arrays, odd


def _colours(fields: Fields, column: int, index: dict[str, int]) -> Floats:
    keys, long = fields.keys(column)
    different, which = np.unique(keys, return_inverse=True)
    names = (int(key).to_bytes(8, "little").lstrip(b"\0").decode("ascii") for key in different)
    found = np.array([index.get(name, _UNKNOWN) for name in names], dtype=np.float64)[which]
    for line in np.flatnonzero(long).tolist():
        found[line] = index.get(fields.text_of(line, column), _UNKNOWN)
    return found


def whole_counters(t: Floats, n: Floats | None, scale: float) -> tuple[Ints, Ints | None, Flags]:
    """Times in us and running numbers (-1 where missing) as whole numbers; flags where one is broken or out of range."""
    times = np.rint(t * scale)
    odd = ~(np.abs(times) < WHOLE_MAX)
    if n is not None:
        missing = np.isnan(n)
        odd |= ~(missing | ((n >= 0) & (n < WHOLE_MAX) & (np.rint(n) == n)))
        n = np.where(missing | odd, -1.0, n)
    if odd.any():
        times = np.where(odd, 0.0, times)
    return times.astype(np.int64), None if n is None else n.astype(np.int64), odd


def _number(field: str) -> tuple[float, bool]:
    """A field that is no plain number, and whether it is for the exact way; float() takes 1_000, the stream does not."""
    try:
        return float(field), "_" in field
    except ValueError:
        return NAN, True
