"""What the times in a recording say: the loop's period, repeated measurements, and the robot's clock."""

from __future__ import annotations

from telemetry.recording.load import Recording
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
