"""What stands on the field in a simulated run: drawn by lot, under the course's groups."""

from __future__ import annotations

import numpy as np

from telemetry.course import EMPTY, Course, GroupRule, Truth

_EMPTY_CHANCE = 0.2


def draw_truth(course: Course, rng: np.random.Generator) -> Truth:
    """One colour a slot in slot order; every allowed arrangement is equally likely (empty places aside)."""
    truth = [EMPTY] * len(course.slots)
    for number, group in enumerate(course.groups):
        members = [index for index, slot in enumerate(course.slots) if slot.group == number]
        if group.rule is GroupRule.ANY:
            drawn = [group.colours[int(pick)] for pick in rng.integers(len(group.colours), size=len(members))]
        else:
            pool = list(group.colours)
            if group.rule is GroupRule.COUNTS:
                pool = [colour for colour, count in zip(group.colours, group.counts, strict=True) for _ in range(count)]
            drawn = [pool[int(pick)] for pick in rng.permutation(len(pool))[: len(members)]]
        for index, colour in zip(members, drawn, strict=False):
            truth[index] = colour
    for index, slot in enumerate(course.slots):
        chance = rng.random()
        if slot.empty_ok and not slot.unseen and course.groups[slot.group].rule is GroupRule.ANY and chance < _EMPTY_CHANCE:
            truth[index] = EMPTY
    return tuple(truth)
