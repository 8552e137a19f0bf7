"""The course: what stands on the field, in which order and where.

The file format is TOML; a course read from a file is data, and every impossible one is refused with its reason.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class LegStart(Enum):
    """How the robot's program makes a new leg begin."""

    BEGIN = "begin"
    NOTE = "note"
    HEADING = "heading"
    RESET = "reset"
    REVERSE = "reverse"


@dataclass(frozen=True, slots=True)
class Leg:
    """A stretch driven in one direction; distance counts from its start."""

    name: str
    starts: LegStart = LegStart.BEGIN
    starts_note: str = ""
    starts_heading_deg: float = 0.0
    heading_deg: float | None = None
    heading_tol_deg: float = 20.0


@dataclass(frozen=True, slots=True)
class Sensor:
    """A colour sensor. ``ahead_cm``: in front (+) of the point whose distance is measured."""

    name: str = ""
    ahead_cm: float = 0.0


class GroupRule(Enum):
    """What ties the slots of a group together."""

    ANY = "colours"
    DISTINCT = "distinct"
    ONE_OF_EACH = "one_of_each"
    COUNTS = "counts"


@dataclass(frozen=True, slots=True)
class Group:
    """Slots that share their colours. ``counts``: how many of each colour stand there (COUNTS and ONE_OF_EACH)."""

    name: str
    rule: GroupRule
    colours: tuple[str, ...]
    counts: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Slot:
    """A place where a marker stands. ``at_cm`` None: only the order is known."""

    name: str
    leg: int
    sensor: int
    group: int
    at_cm: float | None = None
    width_cm: float | None = None
    unseen: bool = False
    empty_ok: bool = False


@dataclass(frozen=True, slots=True)
class Decoy:
    """Something coloured on the route that is not a marker."""

    name: str
    leg: int
    sensor: int
    at_cm: float | None = None
    width_cm: float | None = None
    colour: str = ""


@dataclass(frozen=True, slots=True)
class Points:
    """What readings are worth at this event."""

    right: float
    wrong: float
    missing: float


@dataclass(frozen=True, slots=True)
class Course:
    """A whole course. ``leg``, ``sensor`` and ``group`` of slots and decoys are indices into the tuples here.

    A slot with ``colours = [...]`` of its own gets a group of its own with the rule ANY. There is always at least one leg
    and one sensor (an unnamed one at 0 cm where the file names none).
    """

    name: str
    legs: tuple[Leg, ...]
    sensors: tuple[Sensor, ...]
    groups: tuple[Group, ...]
    slots: tuple[Slot, ...]
    decoys: tuple[Decoy, ...] = ()
    points: Points | None = None
    text: str = ""
    """The TOML it was read from, kept word for word in recordings."""

    @property
    def colours(self) -> tuple[str, ...]:
        """Every colour that may stand on this course, in order of first mention, without ``none``."""
        return tuple(dict.fromkeys(colour for group in self.groups for colour in group.colours))


Truth = tuple[str, ...]
"""What really stood there: one colour a slot in slot order, ``empty`` for an empty slot."""

EMPTY = "empty"
NONE = "none"
