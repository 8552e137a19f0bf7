"""Numbers read many at once are those that ``float()`` gives, to the last bit, or are left to it."""

from __future__ import annotations

import math
import struct

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from stream_decoding import assert_same, cut, decode

from telemetry.stream.columns import parse_header
from telemetry.stream.digits import Fields

PLAIN = st.from_regex(r"-?[0-9]{0,18}(\.[0-9]{0,10})?", fullmatch=True)
ODD = st.sampled_from(["", "-", ".", "-.", "+1", "1e3", "nan", "inf", "-inf", " 7", "1.2.3", "--1", "1-", "1_0", "x", "12.x",
                       "/", ":", "0x1", "9" * 17, "1" * 30, "9007199254740993", "9999999999999999", "-0", "-0.0",
                       "00012.50", "0.1", "1234567.1", "123456789.5", "12345678.", ".12345678", "-.5"])  # fmt: skip
FIELDS = st.one_of(PLAIN, ODD, st.text("0123456789.-+e_ ", max_size=20), st.floats(-1e7, 1e7).map(lambda one: f"{one:.3f}"))


def bits(value: float) -> bytes:
    return struct.pack("<d", value)


@given(st.lists(FIELDS, min_size=1, max_size=40))
@settings(deadline=None, max_examples=300)
def test_a_plain_number_is_what_float_makes_of_it(fields: list[str]) -> None:
    values, odd = Fields(",".join(fields).encode(), 1).numbers([0])
    for field, value, strange in zip(fields, values[:, 0], odd[:, 0], strict=True):
        if strange:
            continue
        assert bits(value) == bits(float(field)) if field else math.isnan(value), field


@pytest.mark.parametrize("field", ["0", "-7", "1020", "12345678", "1234567890123456", "12.3", "-0.4", "-0", "5.", ""])
def test_what_robots_print_is_read_at_once(field: str) -> None:
    assert not Fields(f"{field},1".encode(), 1).numbers([0])[1][0, 0]


@pytest.mark.parametrize("field", ["-", ".", "1e3", "nan", "1_0", " 7", "12:4", "1/2", "1.2.3", "12345678.5", "9" * 17])
def test_what_is_not_plain_is_left(field: str) -> None:
    assert Fields(f"1,{field}".encode(), 1).numbers([0])[1][1, 0]


HEAD = "#n,t/ms,colour,refl/%,speed/cm/s"
NAMES = st.sampled_from(["rust", "leaf", "none", "", "a colour with a long name", "9", "dark red", "grün"])


@given(
    st.lists(st.tuples(st.integers(0, 400), st.integers(0, 3000), NAMES, FIELDS, FIELDS), min_size=20, max_size=80),
    st.lists(st.integers(1, 900), min_size=1, max_size=6),
    st.booleans(),
)
@settings(deadline=None, max_examples=60)
def test_however_it_is_cut_a_stream_is_read_as_line_by_line(
    rows: list[tuple[int, int, str, str, str]], sizes: list[int], sorted_too: bool
) -> None:
    """In small pieces every line takes the exact way, in large ones the short cut: every column to the last bit."""
    if sorted_too:
        rows = sorted(rows)
    assert parse_header(HEAD[1:]).columns
    data = "\n".join([HEAD, *(",".join(map(str, row)) for row in rows), ""]).encode()
    plain = decode(line + b"\n" for line in data.split(b"\n")[:-1])
    assert_same(decode(data), plain)
    assert_same(decode(cut(data, sizes)), plain)
    for name, column in decode(data).columns.items():
        assert column.tobytes() == plain.columns[name].tobytes(), name
