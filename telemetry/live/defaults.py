"""What holds where nobody has said otherwise, for every view of a live run."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from telemetry.course import Course

STILL_S: Final = 3.0
"""Standing so long ends a run. A shorter pause is part of it: robots stop to turn, or to look."""
LEAD_S: Final = 1.0
"""So much before the robot began to move belongs to the run: the field under the sensor, seen at rest."""
SHORTEST_S: Final = 1.5
"""A movement shorter than this is a robot being put in its place, not a run. Common practice, no source."""
BY_PLACE: Final = "windows"
BY_ORDER: Final = "checklist"


def default_strategy(course: Course | None) -> str:
    """Whose readings are shown: one that goes by the slots' places, where the course knows them; else one by order."""
    placed = course is None or any(slot.at_cm is not None for slot in course.slots)
    return BY_PLACE if placed else BY_ORDER
