"""Changes of the code that no other test noticed: each one is noticed here. ``python tests/mutations.py`` looks for more."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
from replay.runs import GOOD, TRUTH, drive, row, table_of

from telemetry.course import parse_course
from telemetry.palette_default import default_palette
from telemetry.reading.load import load_strategy
from telemetry.reading.plan import make_plan
from telemetry.reading.portable.evidence.cells import Cells
from telemetry.reading.portable.evidence.certainty import Certainty
from telemetry.reading.portable.evidence.hypotheses import Hypotheses
from telemetry.reading.portable.moment import Moment
from telemetry.reading.portable.trust import Hold
from telemetry.recording.cut import _stretch
from telemetry.recording.hdf5.layout import packed, unpacked
from telemetry.recording.journal.records import Record, RecordKind
from telemetry.recording.journal.trail import StreamState
from telemetry.replay.case import Case
from telemetry.replay.header import plan_for
from telemetry.replay.judge import judge
from telemetry.replay.runner import Runner
from telemetry.replay.scoring.score import Match, SequenceItem, align
from telemetry.sample import Note
from telemetry.stream.garbage import GarbageWatch


def test_old_garbage_is_forgotten_after_as_many_good_bytes_as_count() -> None:
    watch = GarbageWatch()
    for _ in range(1000):
        watch.bad(b"\xff" * 100)
    watch.good(600)
    assert not watch.bad(b"\xff" * 100)


def test_a_negative_zero_comes_back_as_one() -> None:
    values = np.array([0.0, -0.0, 3.0])
    assert packed(values) is None, "as whole numbers its sign would be lost"
    plain = np.array([0.0, 3.0, np.nan])
    small = packed(plain)
    assert small is not None
    assert np.array_equal(unpacked("dist", "whole", small), plain, equal_nan=True)


def test_a_line_that_began_before_the_cut_is_not_in_it() -> None:
    records = [
        Record(RecordKind.BYTES, 1_000, b"#t/ms,colour\n1,rust\n2,le"), Record(RecordKind.BYTES, 2_000, b"af\n3,sky\n"),
    ]  # fmt: skip
    got = b"".join(one.payload for one in _stretch(records, 1_500, 9_000, StreamState()) if one.kind is RecordKind.BYTES)
    assert got == b"#t/ms,colour\n3,sky\n"


def test_readings_of_another_leg_are_no_readings_of_this_marker() -> None:
    """Of two equal readings the one on the marker's leg is its own, though the other is nearer by its number."""
    true = [SequenceItem("rust", 1, 1000)]
    taken = [SequenceItem("rust", 0, 1000), SequenceItem("rust", 1, 1400)]
    pairs = align(taken, true)
    assert [(pair.taken, pair.match) for pair in pairs if pair.true == 0] == [(1, Match.RIGHT)]


def test_two_readings_of_one_marker_are_one_reading_and_a_repetition() -> None:
    """Only where both may be of one marker is the first the reading, even if the second is nearer by a hair."""
    true = [SequenceItem("rust", 1, 1000)]
    near = align([SequenceItem("rust", 1, 1100), SequenceItem("rust", 1, 1050)], true)
    assert [(pair.taken, pair.match) for pair in near] == [(0, Match.RIGHT), (1, Match.REPEATED)]
    elsewhere = align([SequenceItem("rust", 0, 1100), SequenceItem("rust", 1, 1050)], true)
    assert [(pair.taken, pair.match) for pair in elsewhere] == [(0, Match.EXTRA), (1, Match.RIGHT)]


def test_what_was_read_at_a_decoy_says_so() -> None:
    seen = (*GOOD, (24.5, 25.5, "pink"))
    (result,), _ = judge(Case("x", table_of(drive(*seen)), row, TRUTH), {"first": load_strategy("first-come")})
    assert any(found.numbers.get("decoy") == "hose" for found in result.findings)
    assert "(decoy 'hose')" in " ".join(result.why)


def test_a_restart_begins_the_way_anew() -> None:
    """The second start has its legs from the first on; what it reads stands where the robot says."""
    gate = parse_course(
        '[course]\nname="x"\n[[leg]]\nname="lane"\n[[leg]]\nname="yard"\nstarts="note:gate"\n'
        '[[slot]]\nname="a"\nleg="lane"\nat_cm=10\nwidth_cm=2\ncolours=["rust","leaf"]\n'
    )
    text = drive((9, 11, "leaf"), to_cm=20, start_ms=50_000, notes=((15, "gate"),)) + drive((9, 11, "rust"), to_cm=30)
    table = table_of(text)
    assert table.columns["boot"][-1] == 1
    runner = Runner(plan_for(load_strategy("windows"), gate, default_palette({}), table))
    runner.advance(table)
    runner.finish()
    (slot,) = runner.taken.slots
    assert (slot.colour, slot.leg) == ("rust", 0)
    assert slot.dist_cm is not None
    assert 9 <= slot.dist_cm <= 13


def test_what_one_slot_saw_does_not_count_for_the_next() -> None:
    hold, m = Hold(3, 0, 0, 0), Moment()
    said = []
    for m.t, m.slot in ((0, 0), (10, 0), (20, 1), (30, 1), (40, 1)):
        said.append(hold.step(5, m))
    assert said[:4] == [-1, -1, -1, -1]
    assert said[4] == 5


def test_two_notes_before_one_sample_are_both_heard() -> None:
    legs = '[[leg]]\nname="one"\n' + "".join(f'[[leg]]\nname="{n}"\nstarts="note:{n}"\n' for n in ("two", "three"))
    course = parse_course(f'[course]\nname="x"\n{legs}[[slot]]\nname="a"\nleg="three"\nat_cm=3\ncolours=["rust"]\n')
    plan = make_plan(load_strategy("windows"), course, default_palette({}), ("t_us", "colour", "dist"))
    rows = plan.note_rows([Note(4, 0, 0, "two"), Note(4, 0, 0, "three"), Note(4, 0, 0, "of no matter")])
    assert rows == {4: plan.notes["two"], 5: plan.notes["three"]}


def test_the_certainty_of_one_slot_is_that_of_the_run_shared_out() -> None:
    certainty = Certainty([0, 100], [5000, 9990], 4)
    assert certainty.alone(9900) == 10000 - 100 // 4
    assert certainty.alone(9800) == 10000 - 50
    # between, without a jump; a doubt of a tenth and more stays the slot's own
    assert certainty.alone(9400) == 10000 - (50 + 400 * 950 // 800)
    assert certainty.alone(9000) == 9000
    assert certainty.alone(5000) == 5000
    assert certainty.alone(10000) == 9999


def _shaded(field: list[int]) -> list[int]:
    """What ``shade`` expects of one colour of 400 in each channel, over a field that the palette has at 100."""
    made = SimpleNamespace(
        marks=[400] * 3, none=[100] * 3, fields=field, now=[0] * 3, size=[0], colours=1,
    )  # fmt: skip
    made.tint = lambda at, channel: Hypotheses.tint(made, at, channel)
    Hypotheses.shade(made, 0, 1, 1000)
    return made.now


def test_the_light_is_believed_to_be_tinted_only_so_much() -> None:
    """A channel of the field far beyond the others is some other thing than light: its share is held within bounds."""
    assert _shaded([100, 100, 100]) == [400] * 3
    low, _, high = _shaded([1, 100, 2000])
    assert low == 400 * 160 // 256
    assert high == 400 * 400 // 256


def test_two_cells_made_one_weigh_their_samples() -> None:
    cells, m = Cells([256, 256, 256, 0], 4, 10, 0), Moment()
    for place, times, value in ((0, 3, 100), (20, 1, 300), (40, 2, 50), (60, 2, 70), (80, 1, 10)):
        m.red = m.green = m.blue = value
        for _ in range(times):
            cells.add(place, 0, m)
    assert cells.count == 3
    assert (cells.many[0], cells.c0[0], cells.pos[0]) == (4, 3 * 100 + 300, 5)
    assert (cells.many[1], cells.c0[1], cells.pos[1]) == (4, 2 * 50 + 2 * 70, 50)
    # of more samples than a cell counts, their mean is what stays
    cells = Cells([256, 0, 0, 0], 2, 10, 0)
    for place, times, value in ((0, 150, 10), (20, 150, 30), (40, 1, 10)):
        m.red = value
        for _ in range(times):
            cells.add(place, 0, m)
    assert (cells.many[0], cells.c0[0]) == (200, 200 * 20)
