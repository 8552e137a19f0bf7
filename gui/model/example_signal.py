"""One short made-up signal with what makes reading hard, and what each stage of a strategy leaves of it.

Four markers and a decoy pass the sensor. A flicker comes before the second marker, the second drops out in its middle, the
third has edges that look white and the robot stands over it for a moment, and the fourth shows for two samples only.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from telemetry.course import Course
    from telemetry.replay.readings import Reading
    from telemetry.sample import SampleTable

SAMPLE_MS, STEP_MM = 20, 4
COURSE: Final = """
[course]
name = "an example"

[[leg]]
name = "lane"
starts = "begin"

[[slot]]
name = "1"
leg = "lane"
at_cm = 3.0
width_cm = 2.4
group = "markers"

[[slot]]
name = "2"
leg = "lane"
at_cm = 8.8
width_cm = 2.8
group = "markers"

[[slot]]
name = "3"
leg = "lane"
at_cm = 17.8
width_cm = 2.8
group = "markers"

[[slot]]
name = "4"
leg = "lane"
at_cm = 22.6
width_cm = 2.0
group = "markers"

[[group]]
name = "markers"
distinct = ["rust", "leaf", "sky", "white", "pink"]

[[decoy]]
name = "decoy"
leg = "lane"
at_cm = 13.4
width_cm = 1.6
"""
TRUTH: Final = ("rust", "leaf", "sky", "pink")
_SEEN: Final = (
    ("none", 5), ("rust", 6), ("none", 5), ("sky", 1), ("none", 2), ("leaf", 3), ("none", 1), ("leaf", 3), ("none", 6),
    ("pink", 4), ("none", 5), ("white", 2), ("sky", 3), ("stand", 20), ("sky", 2), ("white", 1), ("none", 7),
    ("pink", 2), ("none", 5),
)  # fmt: skip
"""Colour and how many samples; ``stand``: the colour before it goes on, and the robot stands."""


@dataclass(frozen=True, slots=True)
class Take:
    """A reading. ``row`` is the sample at which it was made; the number of samples: when the run was over."""

    row: int
    slot: int | None
    colour: str
    right: bool


@dataclass(frozen=True, slots=True)
class Through:
    """``stages``: (name, the colour at each sample; empty where it says nothing). ``stops_at``: where it would stop."""

    rows: int
    slots: tuple[tuple[str, int, int], ...]
    """What stands there and from which sample to which; the last is the decoy, and is named so."""
    stages: tuple[tuple[str, tuple[str, ...]], ...]
    takes: tuple[Take, ...]
    stops_at: int | None
    lacks: str

    @property
    def right(self) -> int:
        return sum(take.right for take in self.takes)

    def in_words(self) -> str:
        """For whoever does not see the picture."""
        from gui.words import tr

        taken = ", ".join(f"{take.colour}{'' if take.right else ' ✗'}" for take in self.takes) or tr("nothing")
        return tr("Takes {taken}: {right} of {all} markers right.", taken=taken, right=self.right, all=len(TRUTH))


def seen() -> list[tuple[str, int]]:
    """(colour, distance in mm) sample by sample."""
    rows: list[tuple[str, int]] = []
    at_mm = 0
    for colour, count in _SEEN:
        for _ in range(count):
            rows.append((rows[-1][0] if colour == "stand" else colour, at_mm))
            at_mm += 0 if colour == "stand" else STEP_MM
    return rows


@cache
def example() -> tuple[Course, SampleTable]:
    """The course and the samples."""
    from telemetry.calibrate.files import table_from_text
    from telemetry.course import parse_course

    rows = seen()
    lines = ["#t/ms,colour,dist/cm"]
    lines += [f"{SAMPLE_MS * row},{colour},{mm / 10}" for row, (colour, mm) in enumerate(rows)]
    return parse_course(COURSE, "example"), table_from_text("\n".join([*lines, ""]).encode(), "example")


@cache
def through(spec: str) -> Through:
    """What a strategy (its name, a file, or with changed settings) makes of the signal. Raises SidelongError."""
    from telemetry.reading.load import load_strategy
    from telemetry.replay.header import palette_for, plan_for
    from telemetry.replay.log import LABELLERS, RunLog
    from telemetry.replay.runner import Runner, Shared

    course, table = example()
    runner = Runner(plan_for(load_strategy(spec), course, palette_for(table, course, None), table))
    lacks = runner.lacks(table)
    runner.advance(table)
    runner.finish()
    stops_at = runner.counted.diverges
    readings, log = list(runner.readings), RunLog(runner, table, Shared())
    names = log.names
    sensor_says = tuple(names[label] if label > 0 else "" for label in log.seen(0))
    log.trace([(0, table.rows)])
    kept = []
    for number, stage in enumerate(log.stages(0)):
        if 0 < number < len(log.stages(0)) - 1 and stage not in LABELLERS:
            said = (log.labels(0, row)[number] for row in range(table.rows))
            kept.append((stage, tuple(names[label] if 0 < label < len(names) else "" for label in said)))
    stages = (("", sensor_says), *kept)
    return Through(table.rows, _places(course), stages, _takes(readings, table.rows), stops_at, lacks)


def _takes(readings: Sequence[Reading], rows: int) -> tuple[Take, ...]:
    takes = []
    for reading in readings:
        if reading.colour is not None:
            right = reading.slot is not None and TRUTH[reading.slot] == reading.colour
            takes.append(Take(rows if reading.row is None else min(reading.row, rows), reading.slot, reading.colour, right))
    return tuple(takes)


def _places(course: Course) -> tuple[tuple[str, int, int], ...]:
    """What stands where, in samples."""
    ways = [mm / 10 for _, mm in seen()]
    things = [(colour, slot.at_cm or 0.0, slot.width_cm or 0.0) for colour, slot in zip(TRUTH, course.slots, strict=True)]
    things += [(decoy.name, decoy.at_cm or 0.0, decoy.width_cm or 0.0) for decoy in course.decoys]
    out = []
    for colour, at, width in things:
        inside = [row for row, way in enumerate(ways) if at - width / 2 <= way <= at + width / 2]
        out.append((colour, inside[0], inside[-1] + 1))
    return tuple(out)
