"""The line stream of formats.md, rule by rule."""

from __future__ import annotations

import math

import numpy as np
import pytest
from stream_decoding import HEADER, decode, lines

from telemetry.errors import StreamError
from telemetry.sample import QUANTITIES, SampleTable
from telemetry.stream.decoder import Decoder
from telemetry.stream.line import finished

SAMPLE = "17,1020,rust,54,812,233,190,-0.4,12.3"


def reasons(table: SampleTable) -> list[str]:
    return [line.reason.partition(":")[0] for line in table.rejected]


def console(table: SampleTable) -> list[bytes]:
    return [line.raw for line in table.console]


def test_a_sample_in_canonical_units() -> None:
    table = decode(lines(HEADER, SAMPLE))
    got = {name: column[0] for name, column in table.columns.items()}
    assert got == {
        "t_us": 1_020_000, "arrival_us": 1_000_000, "boot": 0, "n": 17, "colour": 1, "refl": 54.0, "red": 812.0,
        "green": 233.0, "blue": 190.0, "heading": -0.4, "dist": 12.3,
    }  # fmt: skip
    assert table.colours == ("none", "rust")
    assert set(table.columns) <= set(QUANTITIES)
    for name in ("t_us", "arrival_us", "boot", "n"):
        assert table.columns[name].dtype == np.int64
    assert table.columns["colour"].dtype == np.int16
    assert not table.remarks


@pytest.mark.parametrize(
    ("unit", "sent", "channel", "kept"),
    [
        ("t/us", "1500", "t_us", 1500), ("t/ms", "1500", "t_us", 1_500_000), ("t/s", "1.5", "t_us", 1_500_000),
        ("loop/us", "5000", "loop", 5.0), ("loop/ms", "5", "loop", 5.0), ("loop/s", "0.005", "loop", 5.0),
        ("refl/%", "54", "refl", 54.0), ("refl/1", "0.54", "refl", 54.0),
        ("dist/mm", "123", "dist", 12.3), ("dist/cm", "12.3", "dist", 12.3), ("dist/m", "0.123", "dist", 12.3),
        ("speed/mm/s", "250", "speed", 25.0), ("speed/cm/s", "25", "speed", 25.0), ("speed/m/s", "0.25", "speed", 25.0),
        ("heading/deg", "90", "heading", 90.0), ("heading/rad", repr(math.pi / 2), "heading", 90.0),
        ("battery/mV", "7400", "battery", 7.4), ("battery/V", "7.4", "battery", 7.4),
        ("refl.front/%", "3", "refl.front", 3.0), ("red", "7", "red", 7.0), ("gyro/deg/s", "4", "gyro", 4.0),
    ],
)  # fmt: skip
def test_units(unit: str, sent: str, channel: str, kept: float) -> None:
    header, data = (f"#t/ms,{unit}", f"1,{sent}") if not unit.startswith("t/") else (f"#{unit}", sent)
    table = decode(lines(header, data))
    assert table.columns[channel][0] == pytest.approx(kept, rel=1e-15)
    assert not table.remarks


def test_units_of_further_columns_are_kept() -> None:
    table = decode(lines("#t/ms,gyro/deg/s,battery/%,hits", "1,4,80,2"))
    assert table.units == {"gyro": "deg/s", "battery_percent": "%"}
    assert [table.columns[name][0] for name in ("gyro", "battery_percent", "hits")] == [4.0, 80.0, 2.0]
    assert not table.remarks


def test_an_unknown_unit_is_said_once_and_data_goes_on() -> None:
    stream = lines("#t/ms,dist/furlong,refl/%", "1,3,50", "#t/ms,dist/furlong,refl/%", "2,4,51")
    table = decode(stream)
    assert table.rows == 2
    assert table.columns["dist_furlong"].tolist() == [3.0, 4.0]
    assert "dist" not in table.columns
    assert table.remarks == [
        "Header: unknown unit 'furlong' of dist; it is kept as 'dist_furlong' as sent. Known: cm, mm, m."
    ]


def test_a_missing_unit_is_taken_as_the_usual_one_and_said() -> None:
    table = decode(lines("#t,refl", "1500,54"))
    assert table.columns["t_us"][0] == 1_500_000
    assert table.columns["refl"][0] == 54.0
    assert len(table.remarks) == 2


def test_a_header_without_time_is_refused() -> None:
    table = decode(lines("#n,refl/%", "1,50"))
    assert table.rows == 0
    assert reasons(table) == ["not a header", "before the first header"]
    assert "t/ms" in table.remarks[0]


def test_one_name_twice() -> None:
    table = decode(lines("#t/ms,refl/%,refl/%", "1,50,51"))
    assert table.columns["refl"][0] == 50.0
    assert table.columns["refl 3"][0] == 51.0
    assert "twice" in table.remarks[0]


def test_empty_fields_are_missing_values() -> None:
    table = decode(lines(HEADER, ",1020,,,812,,,,"))
    assert table.columns["n"][0] == -1
    assert table.columns["colour"][0] == -1
    assert np.isnan(table.columns["refl"][0])
    assert table.columns["red"][0] == 812.0


@pytest.mark.parametrize("many", [1, 30])
@pytest.mark.parametrize("sent", ["nan", "inf", "-inf", "None"])
def test_what_programs_print_for_no_number_is_missing(sent: str, many: int) -> None:
    table = decode(lines("#t/ms,dist/cm", *[f"1,{sent}"] * many))
    assert table.rows == many
    assert np.isnan(np.asarray(table.columns["dist"], dtype=float)).all()


def test_the_header_may_come_again() -> None:
    table = decode(lines(HEADER, SAMPLE, HEADER, SAMPLE.replace("17", "18")))
    assert table.rows == 2
    assert not table.remarks


def test_the_header_may_change_its_columns() -> None:
    decoder = Decoder()
    chunks = decoder.feed(lines("#t/ms,refl/%", "1,50", "#t/ms,dist/cm", "2,9", "3,8"), 7)
    assert [chunk.rows for chunk in chunks] == [1, 2]
    table = SampleTable()
    for chunk in chunks:
        table.append(chunk)
    np.testing.assert_array_equal(table.columns["refl"], [50.0, np.nan, np.nan])
    np.testing.assert_array_equal(table.columns["dist"], [np.nan, 9.0, 8.0])
    assert table.remarks == ["The header changed after 1 samples (new: dist; gone: refl)."]


def test_joining_late() -> None:
    table = decode(lines("4,2", "1,2,3", "2,3,4") + lines("#t/ms,refl/%,dist/cm", "3,4,5"))
    assert table.rows == 1
    assert reasons(table) == ["before the first header"] * 3
    assert not table.remarks


# -- colours


def test_colours_as_names() -> None:
    table = decode(lines("#t/ms,colour", "1,rust", "2,none", "3,None", "4,leaf", "5, rust "))
    assert table.colours == ("none", "rust", "leaf")
    assert table.columns["colour"].tolist() == [1, 0, 0, 2, 1]


def test_colours_as_codes() -> None:
    table = decode(lines("#t/ms,colour,colour.side", "#codes,9=none,1=rust,-1=leaf", "1,9,1", "2,01,-1", "3,9,9"))
    assert table.columns["colour"].tolist() == [0, 1, 0]
    assert table.columns["colour.side"].tolist() == [1, 2, 0]
    assert table.colours == ("none", "rust", "leaf")
    assert not table.remarks


def test_codes_that_nobody_explained_or_only_later() -> None:
    table = decode(lines("#t/ms,colour", "1,7", "2,7", "#codes,7=rust", "3,7"))
    assert [table.colours[i] for i in table.columns["colour"]] == ["code 7", "code 7", "rust"]
    assert table.remarks == ["The colour code 7 is not explained by a #codes line; it is kept as 'code 7'."]


def test_a_thirtieth_colour_is_refused_and_damage_adds_none() -> None:
    names = [f"c{chr(97 + i)}" for i in range(29)]
    table = decode(lines("#t/ms,refl/%,colour", "1,x,odd", *(f"{i},5,{name}" for i, name in enumerate(names)), "40,5,more"))
    assert table.colours == ("none", *names)
    assert reasons(table) == ["not a number", "more than 29 colours"]


def test_what_is_no_colour() -> None:
    table = decode(lines("#t/ms,colour,refl/%", "1,5.5,3"))
    assert [line.reason for line in table.rejected] == ["neither a colour's name nor a code: colour is '5.5'"]


# -- ranges


def test_ranges_come_in_the_columns_units() -> None:
    table = decode(lines("#range,refl=0..1,red=4..1023", "#t/ms,refl/1,red", "1,0.5,600"))
    assert table.ranges == {"refl": (0.0, 100.0), "red": (4.0, 1023.0)}


@pytest.mark.parametrize("wrong", ["#range,a=4", "#range,a=9..4", "#wrap,t=0", "#wrap,t=soon", "#codes,9=", "#codes,x=a"])
def test_wrong_announcements_are_refused(wrong: str) -> None:
    table = decode(lines("#t/ms", wrong, "1"))
    assert table.rows == 1
    assert reasons(table) == [f"not a {wrong.partition(',')[0]} line"]


# -- notes


def test_notes() -> None:
    table = decode(lines("#t/s,refl/%", "1.25,3") + lines("!1.5,gate open, they say", "!1.62,read,crate 2,rust", check=True))
    assert [(note.row, note.t_us, note.text) for note in table.notes] == [
        (1, 1_500_000, "gate open, they say"),
        (1, 1_620_000, "read,crate 2,rust"),
    ]


def test_a_note_before_the_header_is_taken_as_ms() -> None:
    table = decode(lines("!1500,begin"))
    assert table.notes[0].t_us == 1_500_000
    assert len(table.remarks) == 1


def test_a_note_across_a_wrap() -> None:
    table = decode(lines("#t/ms", "#wrap,t=1000", "990", "!3,after", "5", "!998,late"))
    assert [note.t_us for note in table.notes] == [1_003_000, 998_000]
    assert table.columns["boot"].tolist() == [0, 0]


@pytest.mark.parametrize("wrong", ["!abc,def", "!1500", "!1_0,x"])
def test_broken_notes(wrong: str) -> None:
    assert reasons(decode(lines(wrong))) == ["not a note"]


# -- checksums


@pytest.mark.parametrize("many", [1, 30])
def test_checksums(many: int) -> None:
    good = finished(SAMPLE)
    small = good[:-3] + good[-3:].lower()
    wrong = finished(SAMPLE).replace(b"812", b"813")
    table = decode(lines(HEADER, check=True) + (good + small + wrong + lines(SAMPLE)) * many)
    assert table.rows == 3 * many
    assert reasons(table) == ["wrong checksum"] * many
    assert table.rejected[0].raw == wrong.strip()
    assert table.rejected[0].row == 2


# -- console and damage


def test_the_robots_console_is_no_damage() -> None:
    said = [
        "ets Jul 29 2019 12:21:46", "rst:0x1 (POWERON_RESET),boot:0x13 (SPI_FAST_FLASH_BOOT)", "configsip: 0, SPIWP:0xee",
        "clk_drv:0x00,q_drv:0x00,d_drv:0x00,cs0_drv:0x00", "mode:DIO, clock div:1", "load:0x3fff0030,len:1184",
        "MicroPython v1.22.0 on 2023-12-27; board with a chip", 'Type "help()" for more information.', ">>> ", "# ready",
        "Traceback (most recent call last):", '  File "main.py", line 12, in <module>', "OSError: [Errno 19] ENODEV",
        "\x1b[1mready\x1b[0m", "bereit, los geht's über die Brücke", "!!! motor too hot",
    ]  # fmt: skip
    stream = b"".join(text.encode() + b"\r\n" for text in said)
    for before in (b"", lines("#t/ms,refl/%,dist/cm"), lines("#t/ms"), lines(HEADER)):
        table = decode(before + stream)
        assert console(table) == [text.encode() for text in said]
        assert not table.rejected


@pytest.mark.parametrize(
    ("damaged", "reason"),
    [
        ("17,1020,rust,54", "wrong number of fields: 4 instead of 9"),
        ("st,54,812,233,190,-0.4,12.3", "wrong number of fields: 7 instead of 9"),
        (SAMPLE + ",1", "wrong number of fields: 10 instead of 9"),
        (SAMPLE.replace("812", "8i2"), "not a number: red is '8i2'"),
        (SAMPLE.replace("812", "8_2"), "not a number: red is '8_2'"),
        (SAMPLE.replace("1020", ""), "no time: t is empty"),
        (SAMPLE.replace("1020", "1e300"), "time out of range"),
        (SAMPLE.replace("17", "1.5"), "not a running number: n is a whole number from 0 on"),
        (SAMPLE.replace("17", "-4"), "not a running number: n is a whole number from 0 on"),
    ],
)
def test_damaged_samples(damaged: str, reason: str) -> None:
    table = decode(lines(HEADER, SAMPLE, damaged, SAMPLE))
    assert table.rows == 2
    assert [(line.row, line.raw.decode(), line.reason) for line in table.rejected] == [(1, damaged, reason)]


def test_words_in_a_further_column_do_not_cost_the_line() -> None:
    table = decode(lines("#t/ms,state,ok,refl/%", "1,turning,True,50", "2,straight on,False,51"))
    assert table.columns["refl"].tolist() == [50.0, 51.0]
    assert table.columns["ok"].tolist() == [1.0, 0.0]
    assert np.isnan(np.asarray(table.columns["state"], dtype=float)).all()
    assert table.remarks == ["The column 'state' holds words: as a channel it is empty, the raw stream has them."]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r", "\n\r", "\r\r\n"])
def test_line_ends(end: str) -> None:
    table = decode("".join(text + end for text in ("#t/ms,refl/%", "1,50", "2,51")).encode())
    assert table.rows == 2
    assert not table.console


def test_a_last_line_without_its_end() -> None:
    decoder = Decoder()
    assert decode(lines("#t/ms,refl/%") + b"1,50", decoder=decoder).rows == 1
    assert decoder.finish() == []


# -- no header


@pytest.mark.parametrize(
    "text",
    [
        "1020,54.5,90", "1020, 54.5, 90", "1020\t54.5\t90", "1020 54.5 90", "  1020   54.5  90 ", "1020;54.5;90",
        "1020;54,5;90", "1020,54.5,90,",
    ],
)  # fmt: skip
@pytest.mark.parametrize("many", [1, 40])
@pytest.mark.parametrize("check", [False, True])
def test_headerless_numbers(text: str, many: int, check: bool) -> None:
    table = decode(lines(*[text] * many, check=check), "t/ms,refl/%,heading/deg")
    assert table.rows == many
    assert {name: set(table.columns[name].tolist()) for name in ("t_us", "refl", "heading")} == {
        "t_us": {1_020_000}, "refl": {54.5}, "heading": {90.0},
    }  # fmt: skip


def test_headerless_with_colours_notes_and_console() -> None:
    table = decode(lines("ready to go", "5 rust 3", "!7,gate", "6 leaf 4", "7 leaf", "moved to 3"), "t/ms,colour,refl/%")
    assert table.rows == 2
    assert [note.text for note in table.notes] == ["gate"]
    assert console(table) == [b"ready to go", b"moved to 3"]
    assert reasons(table) == ["wrong number of fields"]


def test_a_header_takes_the_place_of_named_columns() -> None:
    table = decode(lines("1;50", "#t/ms,dist/cm", "2,9", "3;9"), "t/ms,refl/%")
    assert table.rows == 2
    assert table.columns["dist"][1] == 9.0
    assert console(table) == [b"3;9"]


def test_the_same_header_also_takes_it() -> None:
    assert console(decode(lines("#t/ms,refl/%", "2;9"), "t/ms,refl/%")) == [b"2;9"]


@pytest.mark.parametrize("columns", ["refl/%", "t/ms,dist/furlong", "t/hours", "t", "", "t/ms,refl/%,refl/%"])
def test_columns_that_cannot_be(columns: str) -> None:
    with pytest.raises(StreamError) as caught:
        Decoder(columns)
    assert caught.value.where == "--columns"
    assert caught.value.todo


@pytest.mark.parametrize("count", [1, 25])
def test_numbers_without_names_are_told_how_to_get_them(count: int) -> None:
    table = decode(lines(*["1020 54 90"] * count))
    assert len(table.remarks) == 1
    assert "--columns" in table.remarks[0]
    assert reasons(table) == ["before the first header"] * count


def test_what_is_announced_is_handed_on_before_any_sample() -> None:
    (chunk,) = Decoder().feed(b"#t/ms,red\n#range,red=4..1023\n", 0)
    assert (chunk.rows, chunk.ranges) == (0, {"red": (4.0, 1023.0)})


@pytest.mark.parametrize("time", ["-1e300", "-9e15", "1e300"])
def test_a_time_that_no_clock_has_is_no_sample(time: str) -> None:
    (chunk,) = Decoder().feed(f"#t/ms,red\n{time},1\n5,1\n".encode(), 0)
    assert [line.reason for line in chunk.rejected] == ["time out of range"]
    assert chunk.rows == 1
