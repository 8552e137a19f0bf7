"""What every stage said at every sample: the log that explanations are made from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from telemetry.reading.plan import Plan
from telemetry.reading.strategy import Strategy, Use
from telemetry.replay.header import plan_for
from telemetry.replay.runner import Runner
from telemetry.sample import Table, WholeColumns, whole_columns


@dataclass(frozen=True, slots=True)
class SensorTrace:
    """One sensor's log over a stretch.

    ``seen[i]``: what the sensor reported at row ``start + i``. ``labels[i]``: the labels after each of ``stages``, the last
    being the event. ``places[i]``: (leg, position in 0.1 mm, slot). ``settings`` go with the stages.
    """

    start: int
    stages: tuple[str, ...]
    settings: tuple[Mapping[str, int], ...]
    seen: Sequence[int]
    labels: Sequence[tuple[int, ...]]
    places: Sequence[tuple[int, int, int]]


def trace_run(runner: Runner, table: Table) -> tuple[Plan, list[SensorTrace]]:
    """Step the stretch that counts once more, and keep what every stage said, one log a sensor."""
    plan = plan_for(runner.plan.strategy, runner.course, runner.plan.layouts[0].palette, table)
    start, stop = runner.counted.start, runner.counted.stop
    rows = stop - start
    part = {name: column[start:stop] for name, column in table.columns.items()}
    wholes = [whole_columns(part, rows, sensor.name, table.colours, plan.names) for sensor in plan.course.sensors]
    notes = {row - start: number for row, number in plan.note_rows(table.notes).items() if start <= row < stop}
    logs = _logs(plan, wholes, notes, rows)
    seen = _seen(plan, logs, table, wholes, rows)
    return plan, [
        SensorTrace(start, chain.names, tuple(plan.settings), seen[number], *logs[number])
        for number, chain in enumerate(plan.chains)
    ]


LABELLERS = ("code", "nearest")
_ONLY_LABELS = Strategy("labels", "Labels", "What the sensor reports, nothing more.", (Use("auto"),))


def _seen(plan: Plan, logs: Sequence[Log], table: Table, wholes: Sequence[WholeColumns], rows: int) -> list[list[int]]:
    """What each sensor reported: the first stage's label, or, where the strategy makes its own, what others would go by."""
    if all(chain.names[1] in LABELLERS for chain in plan.chains):
        return [[label[1] for label in labels] for labels, _ in logs]
    plain = plan_for(_ONLY_LABELS, plan.course, plan.layouts[0].palette, table)
    return [[label[1] for label in labels] for labels, _ in _logs(plain, wholes, {}, rows)]


Log = tuple[list[tuple[int, ...]], list[tuple[int, int, int]]]


def _logs(plan: Plan, wholes: Sequence[WholeColumns], notes: Mapping[int, int], rows: int) -> list[Log]:
    if len(plan.chains) == 1:
        _, labels, places = plan.chains[0].trace(wholes[0], notes, 0, rows)
        return [(labels, places)]
    logs: list[Log] = [([], []) for _ in plan.chains]
    # Sensors share one ledger, so they are stepped in turn at every sample, as the runner does.
    for row in range(rows):
        for chain, whole, (labels, places) in zip(plan.chains, wholes, logs, strict=True):
            _, more_labels, more_places = chain.trace(whole, notes, row, row + 1)
            labels.extend(more_labels)
            places.extend(more_places)
    return logs
