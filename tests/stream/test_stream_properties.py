"""What holds for every stream, however it is cut up and whatever is wrong with it."""

from __future__ import annotations

import numpy as np
from hypothesis import example, given, settings
from hypothesis import strategies as st
from stream_decoding import HEADER, assert_same, cut, decode, lines, streams

from telemetry.stream.decoder import KEEP_BYTES, Decoder

SIZES = st.lists(st.one_of(st.integers(1, 12), st.integers(20, 700)), min_size=1, max_size=6)
COLUMNS = st.sampled_from([None, None, "t/ms,refl/%,heading/deg", "t/ms", "n,t/ms,colour,refl/%"])


@given(streams(), SIZES, COLUMNS)
@settings(max_examples=300, deadline=None)
def test_any_cutting_gives_the_same_table(data: bytes, sizes: list[int], columns: str | None) -> None:
    assert_same(decode(data, columns), decode(cut(data, sizes), columns))


OPEN_ENDS = b"0,0.0\n0,0.0,\n" + b"".join(b"%d,%d.5,%d.25\n" % (5 * i, i, i) for i in range(1, 14))
"""A line without a header that ends in an empty field, with enough others around for the short cut."""


@given(streams(), COLUMNS)
@settings(max_examples=200, deadline=None)
@example(OPEN_ENDS, "t/ms,refl/%,heading/deg")
def test_the_short_cut_and_the_exact_way_agree(data: bytes, columns: str | None) -> None:
    # Single lines never take the short cut.
    assert_same(decode(data, columns), decode(data.splitlines(keepends=True), columns))


@given(st.one_of(streams(), st.binary(max_size=600)), SIZES, COLUMNS)
@settings(max_examples=200, deadline=None)
@example(b"x" * (KEEP_BYTES + 5) + b"\n1,2\n", [KEEP_BYTES, 3], None)
def test_every_byte_is_accounted_for(data: bytes, sizes: list[int], columns: str | None) -> None:
    decoder = Decoder(columns)
    table = decode(cut(data, sizes), decoder=decoder)
    tally = decoder.tally
    assert tally.bytes_in == len(data)
    assert tally.line_ends + sum(tally.bytes_of.values()) == len(data)
    assert tally.line_ends == data.count(b"\n") + data.count(b"\r")
    assert tally.waiting == 0
    assert tally.lines_of["data"] == table.rows
    assert tally.lines_of["note"] == len(table.notes)
    assert tally.lines_of["console"] == len(table.console)
    assert tally.bytes_of["console"] == sum(len(line.raw) for line in table.console)
    assert tally.lines_of["rejected"] == len(table.rejected)
    assert all(line.reason for line in table.rejected)


@given(streams(), SIZES)
@settings(max_examples=100, deadline=None)
def test_what_waits_is_counted_at_every_moment(data: bytes, sizes: list[int]) -> None:
    decoder = Decoder()
    for piece in cut(data, sizes):
        decoder.feed(piece, 0)
        tally = decoder.tally
        assert tally.line_ends + sum(tally.bytes_of.values()) + tally.waiting == tally.bytes_in


@given(streams(), SIZES)
@settings(max_examples=150, deadline=None)
def test_a_prefix_gives_a_prefix(data: bytes, sizes: list[int]) -> None:
    """What has been said is never taken back: that lets a live view be a replay of what there is so far."""
    decoder = Decoder()
    whole = decode(data)
    rows = 0
    notes: list[object] = []
    for piece in cut(data, sizes):
        for chunk in decoder.feed(piece, 1_000_000):
            for name, column in chunk.columns.items():
                np.testing.assert_array_equal(column, whole.columns[name][rows : rows + chunk.rows])
            rows += chunk.rows
            notes.extend(chunk.notes)
            assert whole.colours[: len(chunk.colours)] == chunk.colours
    assert notes == whole.notes[: len(notes)]


@given(st.lists(st.floats(allow_nan=False, allow_infinity=False, width=64), min_size=1, max_size=60), st.booleans())
@settings(deadline=None)
def test_numbers_come_out_as_they_were_written(values: list[float], check: bool) -> None:
    data = lines("#t/ms,gyro", *(f"{i},{value!r}" for i, value in enumerate(values)), check=check)
    np.testing.assert_array_equal(decode(data).columns["gyro"], np.array(values))


@given(st.integers(0, 200), st.integers(1, 255))
@settings(deadline=None)
def test_a_hit_byte_in_a_checked_line_never_makes_a_sample(place: int, flip: int) -> None:
    """One wrong byte always changes an XOR; what it can do is cut a line in two, or take its star away."""
    good = [f"{i},{1000 + 5 * i},rust,54,812,233,190,-0.4,12.3" for i in range(20)]
    data = bytearray(lines(HEADER, *good, check=True))
    start = data.index(b"\n") + 1
    place = start + place % (len(data) - start)
    if data[place] in b"\n" or (data[place] ^ flip) in b"\n\r" or data[place] in b"*":
        return
    data[place] ^= flip
    table = decode(bytes(data))
    assert table.rows >= 19
    assert set(table.columns["refl"]) == {54.0}
    assert len(table.rejected) == 20 - table.rows
