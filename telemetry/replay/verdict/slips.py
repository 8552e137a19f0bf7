"""How a truth differs from what was read: as people slip when they type it, or as readers err."""

from __future__ import annotations

from enum import Enum

from telemetry.course import Course, GroupRule, Truth

Colours = tuple[str | None, ...]


class Slip(Enum):
    """Two slots of one group changed about; one slot of which nothing but itself is said; any other difference."""

    EXCHANGED = "exchanged"
    ONE = "one"
    NONE = "none"


def slip_of(read: Colours, truth: Truth, course: Course) -> Slip:
    """What one slip of the hand would explain; where readers err, they mostly do otherwise."""
    other = [i for i, (a, b) in enumerate(zip(read, truth, strict=True)) if a != b]
    groups = {course.slots[i].group for i in other}
    if None in read or len(groups) != 1:
        return Slip.NONE
    if len(other) == 2 and (read[other[0]], read[other[1]]) == (truth[other[1]], truth[other[0]]):
        return Slip.EXCHANGED
    free = course.groups[groups.pop()].rule is GroupRule.ANY
    return Slip.ONE if len(other) == 1 and free else Slip.NONE
