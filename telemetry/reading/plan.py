"""From a strategy, a course and a palette to chains of stages ready to step."""

from __future__ import annotations

from dataclasses import dataclass

from telemetry.course import Course
from telemetry.palette import Palette


@dataclass(frozen=True, slots=True)
class Layout:
    """All that a stage may ask when it is made: the course, the palette, the colour names and one sensor's index.

    ``names``: index -> colour, 0 is ``none``; holds the course's colours first, then the palette's, then the stream's.
    ``channels``: the quantities this run has for this sensor ('colour', 'red', 'dist', ...).
    """

    course: Course
    palette: Palette
    names: tuple[str, ...]
    sensor: int
    channels: frozenset[str]
