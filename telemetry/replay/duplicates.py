"""One run that is there several times, by its readings: copies count as runs, and make a comparison too sure."""

from __future__ import annotations

from collections.abc import Sequence

from telemetry.replay.scoring.results import Result

_ENOUGH = 3
"""So many readings at the same times of the robot's clock are no accident."""


def repeated(results: Sequence[Result]) -> list[tuple[str, ...]]:
    """Recordings in which every strategy read the same at the same times of the robot's clock, each group by name."""
    made: dict[str, list[tuple[str, tuple[object, ...]]]] = {}
    for one in results:
        read = [(r.slot, r.colour, r.t_ms) for r in (*one.taken.slots, *one.taken.surplus) if r.t_ms is not None]
        made.setdefault(one.run.recording, []).append((one.strategy, tuple(read)))
    groups: dict[object, list[str]] = {}
    for recording, readings in made.items():
        if max((len(read) for _, read in readings), default=0) >= _ENOUGH:
            groups.setdefault(tuple(readings), []).append(recording)
    return [tuple(group) for group in groups.values() if len(group) > 1]
