"""A run that was driven with a reader of ours: which one it was, and the first sample at which robot and computer part."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from telemetry.course import Course
from telemetry.findings import Finding, FindingKind
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


def beside_the_robot(driven: Driven, label: str, runner: Runner, table: SampleTable) -> list[Finding]:
    """What is to be said of a strategy under the name ``label`` beside what drove; empty where they have nothing in common.

    ``runner``: the strategy, stepped through the whole run.
    """
    here = fingerprint(runner.plan)
    if here == driven.fingerprint:
        same = Finding(FindingKind.DROVE_WITH_SAME, numbers={"here": here, "label": label})
        if not runner.finished:
            return [same]
        return [same, parting(runner.course, table.notes, runner.counted.readings, table.rows)]
    if driven.strategy != runner.plan.strategy.name:
        return []
    names = {"drove": driven.fingerprint, "strategy": driven.strategy, "label": label, "here": here}
    return [Finding(FindingKind.DROVE_WITH_OTHER, numbers=names)]


def parting(course: Course, notes: Sequence[Note], readings: Sequence[Reading], rows: int) -> Finding:
    """Robot and computer side by side: do their readings agree, else the first sample where they part.

    A robot tells a reading behind the sample at which it was made; ``readings``: the computer's, in the order of deciding.
    """
    names = {slot.name: number for number, slot in enumerate(course.slots)}
    robot = []
    for note in notes:
        said = read_note(note.text)
        if said is not None and said.slot in names:
            robot.append((said.slot, said.colour, note.row))
    computer = [
        (course.slots[one.slot].name, one.colour or "empty", one.row + 1)
        for one in readings if one.slot is not None and one.row is not None
    ]  # fmt: skip
    for ours, theirs in zip(robot, computer, strict=False):
        # What the end of a run decides may come a while behind the last sample.
        if ours[:2] != theirs[:2] or abs(ours[2] - theirs[2]) > 1:
            return Finding(FindingKind.ROBOT_PARTS, numbers={"robot": ours, "computer": theirs, "rows": rows})
    if len(robot) != len(computer):
        more, who = (robot, "robot") if len(robot) > len(computer) else (computer, "computer")
        first = more[min(len(robot), len(computer))]
        return Finding(FindingKind.ROBOT_STOPS, cause=who, numbers={"reading": first, "rows": rows})
    return Finding(FindingKind.ROBOT_AGREES, numbers={"readings": len(robot)})
