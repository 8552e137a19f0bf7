"""The course: what stands on the field, in which order and where; and the truth of a run on it."""

from telemetry.course.file import load_course, parse_course
from telemetry.course.model import (
    EMPTY,
    NONE,
    Course,
    Decoy,
    Group,
    GroupRule,
    Leg,
    LegStart,
    Points,
    Sensor,
    Slot,
    Truth,
)
from telemetry.course.truth import format_truth, parse_truth

__all__ = [
    "EMPTY",
    "NONE",
    "Course",
    "Decoy",
    "Group",
    "GroupRule",
    "Leg",
    "LegStart",
    "Points",
    "Sensor",
    "Slot",
    "Truth",
    "format_truth",
    "load_course",
    "parse_course",
    "parse_truth",
]
