"""From where to where samples belong to a slot, in 0.1 mm along its leg."""

from __future__ import annotations

from telemetry.course import Course, Decoy, Slot

REACH_CM = 4.0
"""How far beyond a marker its colour is looked for."""
USUAL_WIDTH_CM = 2.4
OVER_CM = 1.5
"""So far from its middle a sample is over a marker of unknown width; the verdict counts alike."""


def reach(course: Course, slot: int) -> tuple[float, float]:
    """Half-way to the slot's neighbours, at most REACH_CM beyond its marker."""
    one = course.slots[slot]
    at = one.at_cm or 0.0
    far = (one.width_cm or USUAL_WIDTH_CM) / 2 + REACH_CM
    marks: list[Slot | Decoy] = [*course.slots, *course.decoys]
    near = [other for other in marks if other is not one and (other.leg, other.sensor) == (one.leg, one.sensor)]
    others = [other.at_cm for other in near if other.at_cm is not None]
    low = max([at - far, *((at + other) / 2 for other in others if other < at)])
    high = min([at + far, *((at + other) / 2 for other in others if other > at)])
    return low * 100, high * 100


def over(one: Slot) -> tuple[float, float]:
    """Over the slot's marker itself."""
    at, half = one.at_cm or 0.0, (one.width_cm or 2 * OVER_CM) / 2
    return (at - half) * 100, (at + half) * 100
