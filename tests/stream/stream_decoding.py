"""Streams as tests need them: decoded whole or cut up, compared, and made of every kind of line by hypothesis."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from hypothesis import strategies as st

from telemetry.sample import SampleTable
from telemetry.stream.decoder import Decoder
from telemetry.stream.line import finished

HEADER = "#n,t/ms,colour,refl/%,red,green,blue,heading/deg,dist/cm"


def lines(*texts: str, check: bool = False) -> bytes:
    return b"".join(finished(text, check=check) for text in texts)


def decode(pieces: bytes | Iterable[bytes], columns: str | None = None, decoder: Decoder | None = None) -> SampleTable:
    """The table of a stream, given whole or in pieces; all arrive at the same time."""
    decoder = decoder or Decoder(columns)
    table = SampleTable()
    for piece in [pieces] if isinstance(pieces, bytes) else pieces:
        for chunk in decoder.feed(piece, 1_000_000):
            table.append(chunk)
    for chunk in decoder.finish():
        table.append(chunk)
    return table


def cut(data: bytes, sizes: Sequence[int]) -> list[bytes]:
    """``data`` in pieces of the given sizes, over and over."""
    pieces, place, turn = [], 0, 0
    while place < len(data):
        size = sizes[turn % len(sizes)]
        pieces.append(data[place : place + size])
        place, turn = place + size, turn + 1
    return pieces


def assert_same(one: SampleTable, other: SampleTable) -> None:
    assert one.rows == other.rows
    assert list(one.columns) == list(other.columns)
    for name, column in one.columns.items():
        assert column.dtype == other.columns[name].dtype, name
        np.testing.assert_array_equal(column, other.columns[name], err_msg=name)
    for part in ("colours", "notes", "rejected", "console", "remarks", "ranges", "units", "lost"):
        assert getattr(one, part) == getattr(other, part), part


_ODD = ["", "0", " 7 ", "1e3", "nan", "inf", "-inf", "None", "1_0", "x", ".5", "5.", "True", "1e999", "٣", "turn", "0" * 236]
_numbers = st.one_of(
    st.integers(-3, 2000).map(str), st.floats(-1e4, 1e4).map(lambda value: f"{value:.2f}"), st.sampled_from(_ODD)
)
_colours = st.sampled_from(["rust", "leaf", "none", "None", "7", "9", "", " sky", "dark_red", "5x", "grün", "-1"])
HEADERS = (
    HEADER,
    "#t/ms,colour,refl/%",
    "#n,t/us,refl/1,gyro/deg/s",
    "#t/s,dist/mm,colour.side,dist/cm",
    "#t/ms",
    "#t/ms,dist/furlong,battery/%",
    "#n,refl/%",
)


_KINDS = {
    HEADER: "ntcvvvvvv",
    "#t/ms,colour,refl/%": "tcv",
    "#n,t/us,refl/1,gyro/deg/s": "ntvv",
    "#t/s,dist/mm,colour.side,dist/cm": "tvcv",
    "#t/ms": "t",
    "#t/ms,dist/furlong,battery/%": "tvv",
    "#n,refl/%": "nv",
}


@st.composite
def _samples(draw: st.DrawFn) -> list[str]:
    """A header and lines that fit it, mostly enough of them for the short cut; some fields are odd."""
    header = draw(st.sampled_from(sorted(_KINDS)))
    kinds = _KINDS[header]
    count = draw(st.sampled_from([1, 14, 40]))
    t, n, step = draw(st.integers(0, 2000)), draw(st.integers(0, 90)), draw(st.integers(1, 2))
    places = st.tuples(st.integers(0, count - 1), st.integers(0, len(kinds) - 1))
    odd = draw(st.dictionaries(places, st.one_of(_numbers, _colours), max_size=4))
    rows = []
    for i in range(count):
        plain = {"n": str(n + step * i), "t": str(t + 5 * i), "c": ("rust", "leaf", "none")[i % 3], "v": str(i * 7 % 50 / 4)}
        rows.append(",".join(odd.get((i, j), plain[kind]) for j, kind in enumerate(kinds)))
    return [header] * draw(st.integers(0, 3)) + rows


_TEXTS = r"""
#codes,9=none,7=rust|#range,red=4..1023,refl=0..100|#wrap,t=2048,n=100|#wrap,t=x|#codes,a|# hello there
!1500,gate open|!20,read,crate 2,rust|!x,y|!!! help|>>> |Traceback (most recent call last):
  File "main.py", line 12, in <module>|ValueError: no|MicroPython v1.22; robot|	indented|Größe 3
1;2;3|1 2 3|1	2	3|*00|a*b*4F|2*10|,,,|1020,54,3,|1020, 54, 3|5
"""
_BROKEN = ["", "a" * 239, "b" * 300, "7," * 150, "\x1b[0mready", "1\x002", "17,10\x012,3"]
_others = st.sampled_from([*_TEXTS.strip("\n").replace("\n", "|").split("|"), *_BROKEN])


@st.composite
def streams(draw: st.DrawFn) -> bytes:
    """A stream of every kind of line, some with checksums, with all line ends, and a few bytes hit."""
    others = _others.map(lambda one: [one])
    parts = draw(st.lists(st.one_of(_samples(), _samples(), others), min_size=1, max_size=10))
    end = draw(st.sampled_from(["\n", "\r\n", "\r", "\n\n"]))
    out = []
    for part in parts:
        check = draw(st.booleans())
        for text in part:
            raw = text.encode()
            if check and "\0" not in text and len(raw) < 230:
                raw = finished(text)[:-1]
            out.append(raw + end.encode())
    data = bytearray(b"".join(out))
    for place, value in draw(st.lists(st.tuples(st.integers(0, len(data) - 1), st.integers(0, 255)), max_size=4)):
        data[place] = value
    return bytes(data)
