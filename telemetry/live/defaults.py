"""What holds where nobody has said otherwise, for every view of a live run."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from telemetry.course import Course

BY_PLACE: Final = "windows"
BY_ORDER: Final = "checklist"


def default_strategy(course: Course | None) -> str:
    """Whose readings are shown: one that goes by the slots' places, where the course knows them; else one by order."""
    placed = course is None or any(slot.at_cm is not None for slot in course.slots)
    return BY_PLACE if placed else BY_ORDER
