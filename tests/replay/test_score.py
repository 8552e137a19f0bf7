"""The alignment of what was taken with what stood there, and the verdict."""

import jiwer
import pytest
from hypothesis import given
from hypothesis import strategies as st

from telemetry.course import parse_course
from telemetry.replay.readings import Reading, robots_own, taken_from
from telemetry.replay.scoring.score import Errors, Match, SequenceItem, align, count, score
from telemetry.sample import Note

COLOURS = ("rust", "leaf", "sky", "pink")
COURSE = """
[course]
name = "row"
[[slot]]
name = "a"
at_cm = 10
group = "g"
[[slot]]
name = "b"
at_cm = 20
group = "g"
[[slot]]
name = "c"
at_cm = 30
colours = ["rust", "pink"]
empty_ok = true
[[group]]
name = "g"
distinct = ["rust", "leaf", "sky"]
[score]
right = 10
wrong = -5
missing = -1
"""
course = parse_course(COURSE)
colours = st.lists(st.sampled_from(COLOURS), max_size=9)
places = st.one_of(st.none(), st.integers(0, 5000))
marks = st.lists(st.builds(SequenceItem, st.sampled_from(COLOURS), st.sampled_from([None, 0, 1]), places), max_size=9)


def marks_of(text, *at):
    words = text.split()
    return [SequenceItem(word, 0, place) for word, place in zip(words, at or [None] * len(words), strict=True)]


@given(marks, marks)
def test_total_cost_equals_jiwer(taken, true):
    """jiwer's word alignment is the same edit distance."""
    pairs = align(taken, true)
    if not true:
        assert count(pairs).total == len(taken)  # jiwer refuses an empty reference
        return
    reference = jiwer.process_words(" ".join(one.colour for one in true), " ".join(one.colour for one in taken))
    assert count(pairs).total == reference.substitutions + reference.deletions + reference.insertions


@given(marks, marks)
def test_an_alignment_uses_everything_once_and_in_order(taken, true):
    pairs = align(taken, true)
    assert [pair.taken for pair in pairs if pair.taken is not None] == list(range(len(taken)))
    assert [pair.true for pair in pairs if pair.true is not None] == list(range(len(true)))
    for pair in pairs:
        if pair.match is Match.RIGHT:
            assert taken[pair.taken].colour == true[pair.true].colour


@given(marks)
def test_equal_sequences_cost_nothing(true):
    assert count(align(true, true)) == Errors()


@pytest.mark.parametrize(
    ("taken", "true", "errors"),
    [
        ("rust leaf sky", "rust leaf sky", Errors()),
        ("leaf sky", "rust leaf sky", Errors(missed=1)),
        ("rust pink sky", "rust leaf sky", Errors(wrong=1)),
        ("rust leaf leaf sky", "rust leaf sky", Errors(repeated=1)),
        ("rust pink leaf sky", "rust leaf sky", Errors(extra=1)),
        ("pink pink", "", Errors(extra=1, repeated=1)),
        ("rust leaf rust sky", "rust leaf sky", Errors(extra=1)),
    ],
)
def test_kinds_of_errors(taken, true, errors):
    assert count(align(marks_of(taken), marks_of(true))) == errors


def test_ties_go_to_the_nearest_in_distance():
    # one reading for two slots of one colour: the slot it was nearer to got it
    true = marks_of("rust rust", 1000, 2000)
    assert [pair.match for pair in align(marks_of("rust", 1900), true)] == [Match.MISSED, Match.RIGHT]
    assert [pair.match for pair in align(marks_of("rust", 1100), true)] == [Match.RIGHT, Match.MISSED]


def test_two_substitutions_or_a_shift_is_told_by_distance():
    true = marks_of("rust leaf", 1000, 2000)
    shifted = align(marks_of("leaf pink", 2010, 2300), true)
    assert [pair.match for pair in shifted] == [Match.MISSED, Match.RIGHT, Match.EXTRA]
    replaced = align(marks_of("leaf pink", 1010, 2010), true)
    assert [pair.match for pair in replaced] == [Match.WRONG, Match.WRONG]


def test_another_leg_is_far_away():
    true = [SequenceItem("rust", 0, 1000), SequenceItem("rust", 1, 1000)]
    assert [pair.match for pair in align([SequenceItem("rust", 1, 1000)], true)] == [Match.MISSED, Match.RIGHT]


def test_the_second_of_two_readings_of_one_marker_is_the_repetition_whichever_was_nearer():
    for places in ((800, 1000), (1000, 1200), (None, None)):
        pairs = align(marks_of("rust rust", *places), marks_of("rust", 1000))
        assert [pair.match for pair in pairs] == [Match.RIGHT, Match.REPEATED]


def test_an_equal_colour_far_before_the_marker_is_extra():
    pairs = align(marks_of("rust rust", 200, 1000), marks_of("rust", 1000))
    assert [pair.match for pair in pairs] == [Match.EXTRA, Match.RIGHT]
    assert count(align(marks_of("rust rust", 1000, 1800), marks_of("rust", 1000))) == Errors(repeated=1)


def read(slot, colour, row=0, at=None):
    return Reading(slot, colour, "read", row=row, dist_cm=at, leg=0)


def test_all_right():
    got = score(course, ("rust", "leaf", "pink"), taken_from(course, [read(0, "rust"), read(1, "leaf"), read(2, "pink")]))
    assert (got.correct, got.errors, got.points) == (True, Errors(), 30)


def test_nothing_read_in_an_empty_slot_is_right():
    taken = taken_from(course, [read(0, "rust"), read(1, "leaf")])
    assert score(course, ("rust", "leaf", "empty"), taken).correct
    assert not score(course, ("rust", "leaf", "pink"), taken).correct
    full = taken_from(course, [read(0, "rust"), read(1, "leaf"), read(2, "pink")])
    against = score(course, ("rust", "leaf", "empty"), full)
    assert (against.correct, against.errors, against.slots[2]) == (False, Errors(extra=1), "wrong")


def test_a_surplus_does_not_make_slots_wrong():
    taken = taken_from(course, [read(0, "rust", 5), read(None, "rust", 9), read(1, "leaf", 20), read(2, "pink", 40)])
    got = score(course, ("rust", "leaf", "pink"), taken)
    assert got.correct
    assert got.errors == Errors(repeated=1)


def test_a_missed_first_slot_read_in_order_counts_once_in_errors():
    taken = taken_from(course, [read(0, "leaf", 20, 20.1), read(1, "rust", 40, 30.2)])
    got = score(course, ("sky", "leaf", "rust"), taken)
    assert got.slots == ("wrong", "wrong", "missing")
    assert got.errors == Errors(missed=1)
    assert got.points == -11


def test_each_sensor_is_aligned_by_itself():
    two = parse_course(
        COURSE.replace("[[slot]]", '[[sensor]]\nname="l"\n[[sensor]]\nname="r"\n[[slot]]', 1)
        .replace('name = "a"', 'name = "a"\nsensor = "l"')
        .replace('name = "b"', 'name = "b"\nsensor = "l"')
        .replace('name = "c"', 'name = "c"\nsensor = "r"')
    )
    readings = [
        Reading(2, "pink", "read", row=3, sensor=1),
        Reading(0, "rust", "read", row=5),
        Reading(None, "pink", "read", row=6, sensor=1),
        Reading(1, "leaf", "read", row=9),
    ]
    got = score(two, ("rust", "leaf", "pink"), taken_from(two, readings))
    assert got.errors == Errors(repeated=1)


def test_inferred_readings_stand_in_slot_order_behind_a_repetition():
    readings = [read(0, "rust", 5), read(None, "rust", 9), Reading(1, "leaf", "inferred", row=50)]
    assert score(course, ("rust", "leaf", "empty"), taken_from(course, readings)).errors == Errors(repeated=1)


def test_the_robots_own_readings():
    notes = [
        Note(3, 1_620_000, 0, "read,b,leaf"),
        Note(1, 900_000, 0, "read, a ,rust"),
        Note(4, 1_700_000, 0, "gate open"),
        Note(5, 1_800_000, 0, "read,shed,pink"),
        Note(6, 1_900_000, 0, "read,c,none"),
    ]
    own = robots_own(course, notes)
    assert [one.colour for one in own.slots] == ["rust", "leaf", None]
    assert [one.t_ms for one in own.slots] == [900, 1620, 1900]
    assert [one.colour for one in own.surplus] == ["pink"]
    assert robots_own(course, notes[2:3]) is None


@given(st.text(max_size=30))
def test_any_note_is_harmless(text):
    robots_own(course, [Note(0, 0, 0, text)])
