"""Tables line up, fit, and survive every console and every text."""

import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from telemetry.report.table import WIDTH, TableColumn, cut, printable, show, strip, table, width_of, wrap

COLUMNS = [TableColumn("strategy"), TableColumn("right", right=True), TableColumn("why")]


def test_numbers_end_where_their_heading_ends():
    lines = table(COLUMNS, [["plain", "3", "x"], ["windows", "120", "y"]])
    assert lines == [
        "strategy  right  why",
        "────────  ─────  ───",
        "plain         3  x",
        "windows     120  y",
    ]


@given(st.lists(st.tuples(st.text(max_size=120), st.text("0123456789", max_size=6), st.text(max_size=200)), max_size=5))
def test_any_text_stays_within_its_line(rows):
    lines = table(COLUMNS, rows)
    assert len(lines) == 2 + len(rows)
    for line in lines:
        assert width_of(line) <= WIDTH
        assert line.isprintable()


def test_wide_characters_take_two_places():
    assert width_of("赤") == 2
    assert width_of("e\u0301") == 1
    first, second = table([TableColumn("a"), TableColumn("b")], [["赤", "1"], ["ab", "2"]])[2:]
    assert first == "赤  1"
    assert second == "ab  2"


def test_control_characters_do_not_reach_the_console():
    assert printable("a\x1b[2Jb\nc\u202e") == "a�[2Jb�c�"


@given(st.text(st.characters(categories=["L", "N"]), max_size=60), st.integers(2, 30))
def test_cut_never_exceeds_its_width(text, width):
    assert width_of(cut(text, width)) <= width


def test_wrap_keeps_every_word():
    text = " ".join(f"word{i}" for i in range(60))
    lines = wrap(text, "    ")
    assert " ".join(line.strip() for line in lines) == text
    assert max(map(len, lines)) <= WIDTH
    assert lines[0].startswith("    word0")
    assert lines[1].startswith("      word")


@pytest.mark.parametrize(
    ("low", "rate", "high", "expected"),
    [(0, 0, 0.2, "●━━·······"), (0.5, 0.8, 1, "····━━━●━━"), (0.9, 1, 1, "········━●")],
)
def test_strip(low, rate, high, expected):
    assert strip(low, rate, high, 10) == expected


@pytest.mark.parametrize("encoding", ["ascii", "cp437", "cp1252", "utf-8"])
def test_every_console_gets_a_table(encoding):
    out = io.TextIOWrapper(io.BytesIO(), encoding=encoding)
    show(table(COLUMNS, [["plain", "3", strip(0.1, 0.5, 0.9)]]), out)
    out.flush()
    text = out.buffer.getvalue().decode(encoding)
    if encoding in {"ascii", "cp1252"}:
        assert "--------" in text
        assert "..========o=======.." in text
    assert "plain" in text
