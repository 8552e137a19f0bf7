"""The next layout to set up, drawn by lot so that every colour comes to stand in every slot about equally often."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Sequence

from telemetry.course.model import EMPTY, Course, Group, GroupRule, Truth

DRAWS = 60
"""Of so many layouts drawn, the one that practises what was practised least is taken."""


def draw_layout(course: Course, practised: Sequence[Truth], lot: random.Random) -> Truth:
    """A layout that the course's groups allow; of many drawn, the one whose places were practised least.

    ``practised``: what stood there in earlier runs of this course. The same arguments give the same layout.
    """
    seen = Counter((slot, colour) for truth in practised for slot, colour in enumerate(truth))
    pairs = Counter(
        (slot, truth[slot], truth[slot + 1]) for truth in practised for slot in range(len(truth) - 1)
    )

    def practice(truth: Truth) -> tuple[int, int]:
        places = sum(seen[slot, colour] for slot, colour in enumerate(truth))
        return places, sum(pairs[slot, truth[slot], truth[slot + 1]] for slot in range(len(truth) - 1))

    return min((_draw(course, lot) for _ in range(DRAWS)), key=practice)


def evenness(course: Course, practised: Sequence[Truth]) -> tuple[int, int]:
    """(how many of the places of a colour have been practised, how many there are): a place is a slot with a colour."""
    wanted = {(slot, colour) for slot, about in enumerate(course.slots) for colour in course.groups[about.group].colours}
    seen = {(slot, colour) for truth in practised for slot, colour in enumerate(truth)}
    return len(wanted & seen), len(wanted)


def _draw(course: Course, lot: random.Random) -> Truth:
    out = [EMPTY] * len(course.slots)
    for number, group in enumerate(course.groups):
        slots = [place for place, slot in enumerate(course.slots) if slot.group == number]
        for place, colour in zip(slots, _colours(group, len(slots), lot), strict=False):
            out[place] = colour
    return tuple(out)


def _colours(group: Group, count: int, lot: random.Random) -> list[str]:
    if group.rule is GroupRule.ANY:
        return [lot.choice(group.colours) for _ in range(count)]
    if group.rule is GroupRule.DISTINCT:
        return lot.sample(group.colours, min(count, len(group.colours)))
    pool = [colour for colour, times in zip(group.colours, group.counts or (1,) * len(group.colours), strict=True)
            for _ in range(times)]  # fmt: skip
    lot.shuffle(pool)
    return pool[:count]
