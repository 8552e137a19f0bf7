"""What the times in a recording say: the loop's period, repeated measurements, and the robot's clock."""

from __future__ import annotations

from pathlib import Path

from telemetry.errors import SidelongError
from telemetry.recording.load import Recording, load
from telemetry.replay.doubts import doubts
from telemetry.sample import SampleTable
from telemetry.stream.pace import pace_of
from telemetry.wording import sentences


def timing_words(recording: Recording) -> list[str]:
    """One sentence each; for all that is known about a recording."""
    table = recording.table
    if not table.rows:
        return []
    words = pace_of(table.columns, table.rows, table.lost).findings()
    fits = recording.clock
    restarted = len(fits) > 1
    starts = [f"Start {fit.boot + 1}: {fit.sentence()}" if restarted else fit.sentence() for fit in fits[:10]]
    return [*sentences(words), *starts]


def warnings_of(path: Path) -> list[str]:
    """What the user should know right after a recording was made; nothing where it cannot be read."""
    try:
        recording = load(path)
        course = recording.course
    except SidelongError:
        return []
    table = recording.table
    return [*doubts(table, course), *_repeats(table)]


def _repeats(table: SampleTable) -> list[str]:
    return list(sentences(pace_of(table.columns, table.rows, table.lost).repeats())) if table.rows else []
