"""The live reader: memory stays flat, and what is forgotten changes no reading."""

from __future__ import annotations

import numpy as np
import pytest
from replay.runs import GOOD, ROW, drive, pieces, row

from telemetry.course import parse_course
from telemetry.live import reader as reading
from telemetry.live.defaults import default_strategy
from telemetry.live.reader import LiveReader
from telemetry.live.readings import LiveReadings
from telemetry.live.tail import tail
from telemetry.reading.load import load_strategy
from telemetry.sample import SampleTable
from telemetry.stream.drives import RunDetector

STRATEGIES = {name: load_strategy(name) for name in ("hold", "windows", "checklist", "evidence")}


class Pieces:
    """A follower of what is decoded already."""

    def __init__(self, text, cut):
        self.table = SampleTable()
        self._pieces = list(pieces(text, cut))

    def poll(self):
        if not self._pieces:
            return False
        self.table.append(self._pieces.pop(0))
        return True


def live(text, cut, detector=None):
    made = LiveReader(Pieces(text, cut), LiveReadings(row, STRATEGIES), detector)
    told, most = [], 0
    while made.poll():
        made.detect()
        told += made.read()
        made.forget()
        most = max(most, made.table.rows)
    return told + made.finish(), most, made


@pytest.fixture
def few(monkeypatch):
    """So few samples are kept that a run of some seconds shows it."""
    monkeypatch.setattr(reading, "AT_ONCE", 1)
    monkeypatch.setattr(reading, "KEEP_ROWS", 40)
    monkeypatch.setattr(reading, "MOST_ROWS", 60)


def test_what_is_forgotten_changes_no_reading(monkeypatch, few):
    text = drive(*GOOD, to_cm=100, notes=((5, "here"), (70, "there"))) + "a prompt\n" + drive(*GOOD, start_ms=90_000)
    flat, most, made = live(text, 200)
    monkeypatch.setattr(reading, "MOST_ROWS", 1 << 20)
    monkeypatch.setattr(reading, "KEEP_ROWS", 1 << 20)
    whole, all_rows, _ = live(text, 200)
    assert flat == whole
    assert {name for name, _ in flat} == set(STRATEGIES)
    assert most < 120 < all_rows
    assert made.table.first > 100
    assert made.table.stop == all_rows
    assert [line.raw for line in made.console()] == [b"a prompt"]
    assert made.console() == []


def test_a_header_that_brings_more_when_much_is_forgotten_keeps_what_was_read(few):
    """The slots are open again from there on; nothing that was told is told twice or taken back."""
    text = drive(*GOOD, to_cm=80)
    again = drive(*GOOD, start_ms=60_000, header="#t/ms,colour,dist/cm,refl/%").replace("\n", ",50\n")
    again = again.replace("#t/ms,colour,dist/cm,refl/%,50", "#t/ms,colour,dist/cm,refl/%")
    told, _, _ = live(text + again, 100)
    read = [(name, one.slot, one.colour) for name, one in told if name == "hold"]
    assert read[:3] == [("hold", 0, "rust"), ("hold", 1, "leaf"), ("hold", 2, "sky")]


def test_an_afternoon_keeps_the_run_in_progress_and_little_more(few, monkeypatch):
    monkeypatch.setattr(reading, "MOST_ROWS", 1000)
    rest = "".join("{t},none,36\n" for _ in range(1))
    text, start = "#t/ms,colour,dist/cm\n", 0
    for _ in range(4):
        text += drive(*GOOD, start_ms=start, ms=40).split("\n", 1)[1]
        text += "".join(rest.format(t=start + 3000 + i * 40) for i in range(200))
        start += 11_000
    detector = RunDetector()
    _, most, made = live(text, 400, detector)
    assert most < 250
    assert made.table.stop == 4 * 273


def test_the_detector_finds_the_same_whatever_is_forgotten(few, monkeypatch):
    text = "#t/ms,colour,dist/cm\n"
    for k in range(3):
        text += drive(*GOOD, start_ms=k * 20_000, ms=40).split("\n", 1)[1]
        text += "".join(f"{k * 20_000 + 3000 + i * 40},none,36\n" for i in range(150))

    def found(forgets):
        follower, detector, out = Pieces(text, 300), RunDetector(), []
        made = LiveReader(follower, None, detector)
        while made.poll():
            out += made.detect()
            if forgets:
                made.forget()
        return out + detector.finish(made.table), made.table.first

    kept, nothing = found(False)
    flat, forgotten = found(True)
    assert flat == kept
    assert len(flat) == 3
    assert all(one.end_us >= one.begin_us > 0 for one in flat)
    assert (nothing, forgotten > 300) == (0, True)


def test_a_table_forgets_and_goes_on():
    text = drive(*GOOD)
    whole, cut = SampleTable(), SampleTable()
    for number, piece in enumerate(pieces(text, 64)):
        whole.append(piece)
        cut.append(piece)
        held = cut.columns["t_us"]
        before = held.copy()
        if number % 3 == 0:
            cut.forget(cut.stop - 10)
        assert np.array_equal(held, before)
    assert cut.stop == whole.rows
    assert cut.rows < 60
    for name, column in cut.columns.items():
        assert np.array_equal(column, whole.columns[name][cut.first :], equal_nan=True)
    part, same = tail(cut, cut.first + 4), tail(whole, cut.first + 4)
    assert (part.first, part.rows) == (0, same.rows)
    assert tail(cut, 3).first == cut.first - 3


def test_by_place_where_the_course_knows_places():
    assert default_strategy(row) == "windows"
    assert default_strategy(parse_course("".join(ROW.replace("at_cm", "#").splitlines(keepends=True)))) == "checklist"
