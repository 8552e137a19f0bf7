"""What a loose cable, a wrong rate or another program sends: one clear message, bounded memory, nothing lost in silence."""

from __future__ import annotations

import codecs
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from stream_decoding import decode, lines

from telemetry.stream.decoder import KEEP_BYTES, Decoder
from telemetry.stream.garbage import WRONG_BAUD

PLAIN = lines("#t/ms,refl/%", *(f"{i},50" for i in range(200)))


def wrong_rate(count: int) -> bytes:
    """What an oversampled or undersampled line looks like: long runs of equal bits, few of the values in use."""
    return bytes(random.Random(5).choices([0x00, 0x80, 0xF8, 0xE0, 0x78, 0x1E, 0xFE, 0x66, 0x0A, 0x98, 0x06], k=count))


def test_a_wrong_baud_rate_is_recognised() -> None:
    table = decode(wrong_rate(3000))
    assert table.remarks.count(WRONG_BAUD) == 1
    assert table.rows == 0
    assert {line.reason for line in table.rejected} <= {"NUL bytes", "not UTF-8", "control bytes"}


def test_also_without_any_line_end() -> None:
    decoder = Decoder()
    data = wrong_rate(KEEP_BYTES + 10).replace(b"\n", b"\x80")
    said = [remark for chunk in decoder.feed(data, 0) for remark in chunk.remarks]
    assert WRONG_BAUD in said
    assert any("No line end" in remark for remark in said)


def test_also_in_a_short_capture() -> None:
    assert decode(wrong_rate(80)).remarks == [WRONG_BAUD]


@pytest.mark.parametrize("data", [wrong_rate(300) + b"\n" + PLAIN, PLAIN + wrong_rate(400) + b"\n" + PLAIN])
def test_a_boards_few_bytes_at_another_rate_are_none(data: bytes) -> None:
    table = decode(data)
    assert WRONG_BAUD not in table.remarks
    assert table.rows == 200 * data.count(b"#t/ms")


@pytest.mark.parametrize(
    ("damaged", "reason"),
    [
        (b"1,2\x005", "NUL bytes"),
        (b"1,2\xff5", "not UTF-8"),
        (b"1,2\x015", "control bytes"),
        (b"1,2\x7f", "control bytes"),
        (b"7," * 121, "longer than 240 bytes: 242 bytes"),
    ],
)
def test_one_damaged_line_costs_itself_only(damaged: bytes, reason: str) -> None:
    table = decode(PLAIN + damaged + b"\n" + PLAIN)
    assert table.rows == 400
    assert [(line.raw, line.reason, line.row) for line in table.rejected] == [(damaged, reason, 200)]


def test_a_line_of_240_bytes_is_still_one() -> None:
    note = b"!1," + b"x" * 237
    assert len(decode(note + b"\n").notes) == 1
    assert len(decode(note + b"x\n").rejected) == 1


@pytest.mark.parametrize("step", [997, 65536, 1 << 20])
def test_a_megabyte_without_a_line_end(step: int) -> None:
    decoder = Decoder()
    data = PLAIN + b"y" * (1 << 20) + b"\n" + PLAIN
    table = decode([data[i : i + step] for i in range(0, len(data), step)], decoder=decoder)
    assert table.rows == 400
    (kept,) = table.rejected
    assert kept.raw == b"y" * KEEP_BYTES
    assert kept.reason == "longer than 240 bytes: 1048576 bytes, the first 4096 are kept here"
    assert decoder.tally.bytes_of["rejected"] == 1 << 20
    assert len([remark for remark in table.remarks if "No line end" in remark]) == 1


def test_what_waits_for_a_line_end_stays_small() -> None:
    decoder = Decoder()
    for _ in range(300):
        decoder.feed(b"z" * 4000, 0)
    assert len(decoder._rest) == KEEP_BYTES
    assert decoder.tally.waiting == 300 * 4000


def test_headers_that_change_all_the_time_stay_cheap() -> None:
    flip = lines("#t/ms,refl/%", "1,50", "#t/ms,dist/cm", "2,9")
    decoder = Decoder()
    chunks = decoder.feed(flip * 500, 0)
    assert sum(chunk.rows for chunk in chunks) == 1000
    # A time that goes 1, 2, 1, 2 also restarts all the time; of each kind 20 are said.
    assert sum(len(chunk.remarks) for chunk in chunks) == 40


@given(st.binary(max_size=2000))
def test_no_bytes_raise(data: bytes) -> None:
    decode(PLAIN[:40] + data)


@pytest.mark.parametrize("check", [False, True])
def test_a_byte_order_mark_is_no_part_of_its_line(check: bool) -> None:
    """As some editors put it before a file, and 'copy a+b' into the middle (Unicode Standard, 23.8)."""
    first, second = lines("#t/ms,refl/%", "1,10", check=check), lines("2,20", "3,30", check=check)
    table = decode(codecs.BOM_UTF8 + first + codecs.BOM_UTF8 + second + codecs.BOM_UTF8)
    assert table.columns["refl"].tolist() == [10.0, 20.0, 30.0]
    assert (table.rejected, table.console) == ([], [])


@pytest.mark.parametrize("codec", ["utf-16", "utf-16-le", "utf-16-be"])
def test_utf_16_is_called_by_its_name(codec: str) -> None:
    decoder = Decoder()
    table = decode(lines("#t/ms,refl/%", *(f"{i},{i}" for i in range(100, 140))).decode().encode(codec), decoder=decoder)
    assert any("UTF-16" in remark for remark in table.remarks)
    assert not any("baud" in remark for remark in table.remarks)
