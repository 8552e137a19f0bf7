"""A course file's tables and keys, with their kinds and limits. What they mean together is in ``file``."""

from __future__ import annotations

import msgspec

from telemetry.course.values import (
    AheadCm,
    ColourNames,
    Counts,
    HeadingDeg,
    Name,
    OneColour,
    PlaceCm,
    PointsWorth,
    ToleranceDeg,
    WidthCm,
    Words,
)


class Table(msgspec.Struct, forbid_unknown_fields=True):
    """A table of which every key is known."""


class CourseTable(Table):
    """``[course]``"""

    name: Words


class SensorTable(Table):
    """``[[sensor]]``"""

    name: Name
    ahead_cm: AheadCm = AheadCm(0.0)


class LegTable(Table):
    """``[[leg]]``; without ``starts`` the first begins with the run."""

    name: Name
    starts: Words | None = None
    heading_deg: HeadingDeg | None = None
    heading_tol_deg: ToleranceDeg | None = None


class SlotTable(Table):
    """``[[slot]]``"""

    name: Name
    leg: Words | None = None
    sensor: Words | None = None
    at_cm: PlaceCm | None = None
    width_cm: WidthCm | None = None
    group: Words | None = None
    colours: ColourNames | None = None
    unseen: bool = False
    empty_ok: bool = False


class GroupRuleTable(Table):
    """``[[group]]``; one of the three rules."""

    name: Name
    distinct: ColourNames | None = None
    one_of_each: ColourNames | None = None
    counts: Counts | None = None


class DecoyTable(Table):
    """``[[decoy]]``"""

    name: Name
    leg: Words | None = None
    sensor: Words | None = None
    at_cm: PlaceCm | None = None
    width_cm: WidthCm | None = None
    colour: OneColour | None = None


class ScoreTable(Table):
    """``[score]``"""

    right: PointsWorth
    wrong: PointsWorth = PointsWorth(0.0)
    missing: PointsWorth = PointsWorth(0.0)


class CourseDocument(Table):
    """The whole file."""

    course: CourseTable
    sensor: tuple[SensorTable, ...] = ()
    leg: tuple[LegTable, ...] = ()
    slot: tuple[SlotTable, ...] = ()
    group: tuple[GroupRuleTable, ...] = ()
    decoy: tuple[DecoyTable, ...] = ()
    score: ScoreTable | None = None
