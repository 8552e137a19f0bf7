"""A run that was driven with a reader of ours: which one it was, and the first sample at which robot and computer part."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from telemetry.course import Course
from telemetry.reading.fingerprint import fingerprint
from telemetry.replay.readings import Reading
from telemetry.replay.runner import Runner
from telemetry.sample import Note, SampleTable
from telemetry.stream.line import read_note

MARK = "reader"


@dataclass(frozen=True, slots=True)
class Driven:
    """The reader that drove: what the robot said of it, ``reader,STRATEGY,FINGERPRINT``, as its first note."""

    strategy: str
    fingerprint: str


def driven_with(notes: Sequence[Note]) -> Driven | None:
    """The last reader that the notes name; None where the robot's program is not one of ours."""
    for note in reversed(notes):
        kind, _, rest = note.text.partition(",")
        name, comma, digits = rest.rpartition(",")
        if kind.strip() == MARK and comma and name.strip() and digits.strip():
            return Driven(name.strip(), digits.strip())
    return None


def side_by_side(driven: Driven, label: str, runner: Runner, table: SampleTable) -> str:
    """What is to be said of a strategy under the name ``label`` beside what drove; empty where they have nothing in common.

    ``runner``: the strategy, stepped through the whole run.
    """
    here = fingerprint(runner.plan)
    if here == driven.fingerprint:
        same = f"the robot drove with reader {here}, which is '{label}' as it is replayed here"
        if not runner.finished:
            return same
        return f"{same}; {parting(runner.course, table.notes, runner.counted.readings, table.rows)}"
    if driven.strategy != runner.plan.strategy.name:
        return ""
    return (
        f"the robot drove with reader {driven.fingerprint} of '{driven.strategy}', another than '{label}' replayed here"
        f" ({here}): settings, course, palette or columns differ"
    )


def parting(course: Course, notes: Sequence[Note], readings: Sequence[Reading], rows: int) -> str:
    """Robot and computer side by side, in one sentence: do their readings agree, else the first sample where they part.

    A robot tells a reading behind the sample at which it was made; ``readings``: the computer's, in the order of deciding.
    """
    names = {slot.name: number for number, slot in enumerate(course.slots)}
    robot = []
    for note in notes:
        said = read_note(note.text)
        if said is not None and said.slot in names:
            robot.append((note.row - 1, names[said.slot], said.colour))
    computer = [
        (one.row, one.slot, one.colour or "empty") for one in readings if one.slot is not None and one.row is not None
    ]  # fmt: skip
    for (row, slot, colour), (other_row, other, wanted) in zip(robot, computer, strict=False):
        # What the end of a run decides may come a while behind the last sample.
        apart = abs(row - other_row) > 1
        if slot != other or colour != wanted or apart:
            here = f"robot {course.slots[slot].name} {colour} at sample {row + 1}"
            there = f"computer {course.slots[other].name} {wanted} at sample {other_row + 1}"
            return f"robot and computer part at sample {min(row, other_row) + 1} of {rows}: {here}, {there}"
    if len(robot) != len(computer):
        more, who = (robot, "robot") if len(robot) > len(computer) else (computer, "computer")
        row, slot, colour = more[min(len(robot), len(computer))]
        only = f"only the {who} reads {course.slots[slot].name} {colour}"
        return f"robot and computer part at sample {row + 1} of {rows}: {only}"
    return f"robot and computer agree in all {len(robot)} readings, sample by sample"
