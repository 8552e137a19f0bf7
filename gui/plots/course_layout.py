"""Where the legs and slots of a course lie on the plane, for drawing."""

from __future__ import annotations

import math
from dataclasses import dataclass

from telemetry.course import Course, LegStart

AHEAD_CM = 7.0
"""What is drawn of a leg beyond its last marker."""
UNPLACED_STEP_CM = 9.0


@dataclass(frozen=True, slots=True)
class LegLine:
    """A leg as a line from ``start`` in direction ``angle_deg`` (0 along x, turning towards y), ``length_cm`` long."""

    name: str
    start: tuple[float, float]
    angle_deg: float
    length_cm: float
    backwards: bool = False

    @property
    def upright(self) -> bool:
        """Whether it runs up or down rather than across."""
        return abs(math.sin(math.radians(self.angle_deg))) > 0.7

    def at(self, along_cm: float, aside_cm: float = 0.0) -> tuple[float, float]:
        """The point ``along_cm`` from the start, ``aside_cm`` to the left."""
        angle = math.radians(self.angle_deg)
        x = self.start[0] + along_cm * math.cos(angle) - aside_cm * math.sin(angle)
        y = self.start[1] + along_cm * math.sin(angle) + aside_cm * math.cos(angle)
        return x, y


@dataclass(frozen=True, slots=True)
class CourseLayout:
    """The legs as lines, and for each slot and decoy (leg, place along it in cm). Slots without a place are spread out."""

    legs: tuple[LegLine, ...]
    slots: tuple[tuple[int, float], ...]
    decoys: tuple[tuple[int, float], ...]


def lay_out(course: Course) -> CourseLayout:
    """Draw the legs one after the other; each begins where the one before ends."""
    slots: list[tuple[int, float]] = []
    reached = [0.0] * len(course.legs)
    for slot in course.slots:
        at = slot.at_cm if slot.at_cm is not None and not slot.unseen else reached[slot.leg] + UNPLACED_STEP_CM
        slots.append((slot.leg, at))
        reached[slot.leg] = max(reached[slot.leg], at)
    decoys = [(decoy.leg, decoy.at_cm if decoy.at_cm is not None else 0.0) for decoy in course.decoys]
    for number, at in decoys:
        reached[number] = max(reached[number], at)
    lines: list[LegLine] = []
    point, angle = (0.0, 0.0), 0.0
    for number, leg in enumerate(course.legs):
        backwards = leg.starts is LegStart.REVERSE
        if leg.heading_deg is not None:
            angle = leg.heading_deg
        elif leg.starts is LegStart.HEADING:
            angle = leg.starts_heading_deg
        elif backwards:
            angle = lines[-1].angle_deg + 180.0 if lines else 180.0
        length = reached[number] + AHEAD_CM
        line = LegLine(leg.name, point, angle, length, backwards)
        lines.append(line)
        point = line.at(length)
    return CourseLayout(tuple(lines), tuple(slots), tuple(decoys))
