"""How good readings are: the cheapest alignment of what was taken with what stood there, and the verdict on a run."""

from __future__ import annotations

from collections.abc import Sequence
from enum import Enum
from typing import NamedTuple

import msgspec

from telemetry.course import EMPTY, Course, Points, Slot, Truth
from telemetry.replay.readings import READ, Reading, Taken


class Outcome(Enum):
    """The verdict on one run. The last two say nothing about the strategy and are counted apart."""

    RIGHT = "right"
    WRONG = "wrong"
    NOT_APPLICABLE = "not applicable"
    DIVERGES = "diverges"


class Match(Enum):
    """What one step of an alignment is."""

    RIGHT = "right"
    WRONG = "wrong"
    MISSED = "missed"
    REPEATED = "repeated"
    EXTRA = "extra"


class SequenceItem(NamedTuple):
    """Something in a sequence: a colour, and where it was (``at`` in 0.1 mm along ``leg``), None where that is not known."""

    colour: str
    leg: int | None = None
    at: int | None = None


class AlignedPair(NamedTuple):
    """One step of an alignment: ``taken`` and ``true`` are indices into the two sequences, None without a partner."""

    match: Match
    taken: int | None
    true: int | None


class Errors(msgspec.Struct, frozen=True, gc=False):
    """What went wrong, counted from the alignment."""

    missed: int = 0
    wrong: int = 0
    repeated: int = 0
    extra: int = 0

    @property
    def total(self) -> int:
        """The cost of the alignment: the edit distance of the two sequences."""
        return self.missed + self.wrong + self.repeated + self.extra

    def __add__(self, other: Errors) -> Errors:
        return Errors(
            self.missed + other.missed, self.wrong + other.wrong, self.repeated + other.repeated, self.extra + other.extra
        )


OTHER_LEG = 100_000
"""What being on another leg counts as, in 0.1 mm: ten metres."""


def align(taken: Sequence[SequenceItem], true: Sequence[SequenceItem]) -> list[AlignedPair]:
    """The cheapest alignment: each substitution, deletion and insertion costs 1.

    Of those that cost the same, the one whose partners are nearest in distance; then the one with most partners.
    """
    rows, columns = len(taken), len(true)
    if [one.colour for one in taken] == [one.colour for one in true]:
        return [AlignedPair(Match.RIGHT, i, i) for i in range(rows)]
    best = _costs(taken, true)
    alone = _ALONE
    pairs: list[AlignedPair] = []
    i, j = rows, columns
    while i or j:
        if i and best[i][j] == best[i - 1][j] + alone:
            # Of equals the later is the one left over: what comes a second time is the repetition.
            i -= 1
            pairs.append(AlignedPair(Match.EXTRA, i, None))
        elif i and j and best[i][j] == best[i - 1][j - 1] + _together(taken[i - 1], true[j - 1]):
            i, j = i - 1, j - 1
            pairs.append(AlignedPair(Match.RIGHT if taken[i].colour == true[j].colour else Match.WRONG, i, j))
        else:
            j -= 1
            pairs.append(AlignedPair(Match.MISSED, None, j))
    return _name_repetitions(pairs[::-1], taken)


def _name_repetitions(pairs: list[AlignedPair], taken: Sequence[SequenceItem]) -> list[AlignedPair]:
    """An insertion equal to the colour before it is a repetition.

    Where one marker was read twice, the second is the repetition even if it was the nearer one by a hair.
    """
    for k in range(len(pairs) - 1, 0, -1):
        first, second = pairs[k - 1], pairs[k]
        if first.match is not Match.EXTRA or second.taken is None or second.true is None or first.taken is None:
            continue
        one, other = taken[first.taken], taken[second.taken]
        if one.colour == other.colour and _one_marker(one, other):
            pairs[k - 1 : k + 1] = [
                AlignedPair(second.match, first.taken, second.true),
                AlignedPair(Match.EXTRA, second.taken, None),
            ]
    return [
        AlignedPair(Match.REPEATED, pair.taken, None) if pair.match is Match.EXTRA and _repeats(pair.taken, taken) else pair
        for pair in pairs
    ]


def _repeats(i: int | None, taken: Sequence[SequenceItem]) -> bool:
    return i is not None and i > 0 and taken[i - 1].colour == taken[i].colour


def _one_marker(one: SequenceItem, other: SequenceItem) -> bool:
    """Whether two readings may be of one marker, as far as their places tell."""
    if one.leg is not None and other.leg is not None and one.leg != other.leg:
        return False
    return one.at is None or other.at is None or abs(one.at - other.at) <= MARKER


MARKER = 500
"""No marker is wider than this, in 0.1 mm."""


def count(pairs: Sequence[AlignedPair]) -> Errors:
    """The errors of an alignment."""
    kinds = [pair.match for pair in pairs]
    return Errors(
        kinds.count(Match.MISSED), kinds.count(Match.WRONG), kinds.count(Match.REPEATED), kinds.count(Match.EXTRA)
    )


_EDIT, _APART = 1 << 80, 1 << 20
_ALONE = _EDIT + 1
"""A cost is one whole number: edits, then what partners are apart, then how many are left alone (each an edit too)."""


def _costs(taken: Sequence[SequenceItem], true: Sequence[SequenceItem]) -> list[list[int]]:
    """(i, j) -> the least cost of aligning the first ``i`` taken with the first ``j`` true."""
    alone = _ALONE
    before = [j * alone for j in range(len(true) + 1)]
    best = [before]
    for i, mark in enumerate(taken, start=1):
        cost = i * alone
        line = [cost]
        corner = before[0]
        colour, leg, at = mark
        # Written out without min() and _together(): this is the innermost loop of every comparison.
        for (its_colour, its_leg, its_at), above in zip(true, before[1:], strict=True):
            if above < cost:  # noqa: PLR1730 - min() is a call
                cost = above
            cost += alone
            together = corner if colour == its_colour else corner + _EDIT
            if leg is not None and its_leg is not None and leg != its_leg:
                together += OTHER_LEG * _APART
            elif at is not None and its_at is not None:
                together += abs(at - its_at) * _APART
            if together < cost:  # noqa: PLR1730
                cost = together
            corner = above
            line.append(cost)
        best.append(line)
        before = line
    return best


def _together(taken: SequenceItem, true: SequenceItem) -> int:
    """What it costs to make these two partners."""
    colour, leg, at = taken
    cost = 0 if colour == true.colour else _EDIT
    if leg is not None and true.leg is not None and leg != true.leg:
        return cost + OTHER_LEG * _APART
    if at is not None and true.at is not None:
        return cost + abs(at - true.at) * _APART
    return cost


def sequence(taken: Taken, sensor: int) -> list[Reading]:
    """What one sensor took, in order: the slots as the course lists them, each surplus after the slot read before it."""
    slots = [reading for reading in taken.slots if reading.sensor == sensor and reading.colour is not None]
    if not taken.surplus:
        return slots
    surplus = sorted((one for one in taken.surplus if one.sensor == sensor), key=_row)
    out: list[Reading] = []

    def let_in(before: float) -> None:
        while surplus and _row(surplus[0]) < before:
            out.append(surplus.pop(0))

    rows = [_row(reading) if reading.how == READ else None for reading in slots]
    let_in(next((row for row in rows if row is not None), float("inf")))
    for index, reading in enumerate(slots):
        out.append(reading)
        if rows[index] is not None:
            let_in(next((row for row in rows[index + 1 :] if row is not None), float("inf")))
    return out


def _row(reading: Reading) -> float:
    return -1.0 if reading.row is None else float(reading.row)


class Score(msgspec.Struct, frozen=True):
    """``correct``: every slot's colour is the truth's. ``slots``: one a slot, right, wrong or missing."""

    correct: bool
    errors: Errors
    points: float | None
    slots: tuple[str, ...]


class Aligned(msgspec.Struct, frozen=True):
    """One sensor's alignment: ``readings`` are what it took, ``slots`` the course's slots with a marker, in order."""

    readings: tuple[Reading, ...]
    slots: tuple[int, ...]
    pairs: tuple[AlignedPair, ...]

    def of_reading(self, reading: Reading) -> tuple[Match, int | None] | None:
        """What became of a reading: the kind, and the slot it stands beside; None where it is not in this sequence."""
        for pair in self.pairs:
            if pair.taken is not None and self.readings[pair.taken] is reading:
                return pair.match, None if pair.true is None else self.slots[pair.true]
        return None

    def of_slot(self, slot: int) -> tuple[Match, Reading | None] | None:
        """What stands beside a slot: the kind, and the reading; None where nothing stood there."""
        for pair in self.pairs:
            if pair.true is not None and self.slots[pair.true] == slot:
                return pair.match, None if pair.taken is None else self.readings[pair.taken]
        return None


TrueSequence = tuple[tuple[int, ...], tuple[SequenceItem, ...]]
"""The slots of one sensor at which a marker stands, in order, and what stands there."""


def true_sequences(course: Course, truth: Truth) -> list[TrueSequence]:
    """What each sensor should have seen: the same for every strategy of a run."""
    out = []
    for sensor in range(len(course.sensors)):
        slots = tuple(i for i, slot in enumerate(course.slots) if slot.sensor == sensor and truth[i] != EMPTY)
        out.append((slots, tuple(_mark_of_slot(course.slots[i], truth[i]) for i in slots)))
    return out


def aligned(
    course: Course, truth: Truth, taken: Taken, true: Sequence[TrueSequence] | None = None
) -> list[Aligned]:
    """Each sensor's sequence beside the true one. ``true``: as ``true_sequences``, where it is known already."""
    out = []
    for sensor, (slots, there) in enumerate(true_sequences(course, truth) if true is None else true):
        readings = sequence(taken, sensor)
        got = [_mark_of_reading(course, one) for one in readings]
        out.append(Aligned(tuple(readings), slots, tuple(align(got, there))))
    return out


def score(course: Course, truth: Truth, taken: Taken, beside: Sequence[Aligned] | None = None) -> Score:
    """Hold what was taken against the truth. With several sensors each one's sequence is aligned by itself.

    ``beside``: the alignments, where they are known already.
    """
    errors = sum((count(one.pairs) for one in beside or aligned(course, truth, taken)), Errors())
    slots = slot_verdicts(truth, taken)
    return Score(all(one == "right" for one in slots), errors, _points(course.points, slots), slots)


UNSEEN = -1
"""The leg that unseen slots count as standing on: what the sensor saw is far from them."""


def _mark_of_slot(slot: Slot, colour: str) -> SequenceItem:
    return SequenceItem(colour, UNSEEN if slot.unseen else slot.leg, None if slot.at_cm is None else round(slot.at_cm * 100))


def _mark_of_reading(course: Course, reading: Reading) -> SequenceItem:
    """Where a reading was. What follows from others, or was decided at no place, stands at its slot."""
    if reading.slot is not None and (reading.how != READ or reading.dist_cm is None):
        return _mark_of_slot(course.slots[reading.slot], reading.colour or "")
    return SequenceItem(reading.colour or "", reading.leg, None if reading.dist_cm is None else round(reading.dist_cm * 100))


def slot_verdicts(truth: Truth, taken: Taken) -> tuple[str, ...]:
    """For each slot: right, wrong or missing."""
    return tuple(_verdict(reading, colour) for reading, colour in zip(taken.slots, truth, strict=True))


def _verdict(reading: Reading, truth: str) -> str:
    if truth == EMPTY:
        return "right" if reading.colour is None else "wrong"
    if reading.colour is None:
        return "missing"
    return "right" if reading.colour == truth else "wrong"


def _points(points: Points | None, slots: tuple[str, ...]) -> float | None:
    if points is None:
        return None
    worth = {"right": points.right, "wrong": points.wrong, "missing": points.missing}
    return sum(worth[slot] for slot in slots)
