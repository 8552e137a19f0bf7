"""Writing lines, and reading them back."""

from __future__ import annotations

import functools
import math
import operator

import pytest
from hypothesis import given
from hypothesis import strategies as st
from stream_decoding import decode

from telemetry.errors import StreamError
from telemetry.stream import line


def test_checksum_of_the_widely_printed_example() -> None:
    # NMEA 0183's GGA example: from memory, recomputed by hand of the definition (XOR of all bytes).
    example = b"GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,"
    assert line.checksum(example) == 0x47


@given(st.binary(max_size=300))
def test_checksum_is_the_xor_of_all_bytes(body: bytes) -> None:
    assert line.checksum(body) == functools.reduce(operator.xor, body, 0)


def test_every_kind_of_line() -> None:
    assert line.header_line(["n", "t/ms", "colour"], check=False) == b"#n,t/ms,colour\n"
    assert line.codes_line({9: "none", 1: "rust"}, check=False) == b"#codes,9=none,1=rust\n"
    assert line.range_line({"red": (4, 1023), "refl": (0, 100.5)}, check=False) == b"#range,red=4..1023,refl=0..100.5\n"
    assert line.wrap_line({"t": 1 << 30}, check=False) == b"#wrap,t=1073741824\n"
    assert line.note_line(1500, "gate open") == b"!1500,gate open*2A\n"
    assert line.read_note_line(1620, "crate 2", "rust", check=False) == b"!1620,read,crate 2,rust\n"
    assert line.data_line([17, "rust", 54.25, None, math.nan, -0.00001, 1e-9], check=False) == b"17,rust,54.25,,,0,0\n"


def test_a_note_that_looks_like_a_checksum_carries_one() -> None:
    written = line.note_line(5, "cost 2*10", check=False)
    assert written == b"!5,cost 2*10*%02X\n" % line.checksum(b"!5,cost 2*10")
    assert [note.text for note in decode(written).notes] == ["cost 2*10"]


@pytest.mark.parametrize("text", ["two\nlines", "a\rb", "nul\0", "x" * 238])
def test_what_is_no_line_is_refused(text: str) -> None:
    with pytest.raises(StreamError):
        line.note_line(1, text)


def test_a_line_may_have_every_byte_that_is_allowed() -> None:
    longest = line.note_line(1, "x" * (line.LINE_MAX - 3), check=False)
    assert len(longest) == line.LINE_MAX + 1
    assert len(decode(longest).notes) == 1
    with pytest.raises(StreamError, match="241 bytes, 240 are allowed"):
        line.note_line(1, "x" * (line.LINE_MAX - 2), check=False)


def test_a_field_with_a_comma_is_refused() -> None:
    with pytest.raises(StreamError, match="comma"):
        line.data_line(["dark, red"])


@pytest.mark.parametrize(
    ("text", "slot", "colour"),
    [("read,crate 2,rust", "crate 2", "rust"), ("read, tag 1 , sky", "tag 1", "sky"), ("read,a, b,none", "a, b", "none")],
)
def test_read_notes(text: str, slot: str, colour: str) -> None:
    assert line.read_note(text) == line.ReadNote(slot, colour)


@pytest.mark.parametrize("text", ["gate open", "read", "read,rust", "read,,rust", "read,crate 2,", "reading,a,rust", ""])
def test_other_notes(text: str) -> None:
    assert line.read_note(text) is None


@given(st.lists(st.one_of(st.integers(-(10**6), 10**6), st.floats(-1e6, 1e6)), min_size=2, max_size=8), st.booleans())
def test_written_samples_read_back(values: list[float], check: bool) -> None:
    names = [f"further{i}" for i in range(len(values))]
    table = decode(line.header_line(["t/ms", *names], check=check) + line.data_line([5, *values], check=check))
    assert table.rows == 1
    for name, value in zip(names, values, strict=True):
        assert table.columns[name][0] == pytest.approx(value, abs=0.5e-4)
