"""Runs of hours are stepped piece by piece, from a column that is never there as a whole: the same readings and labels."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from replay.runs import GOOD, drive, row, table_of
from telemetry.block_column import BlockColumn
from telemetry.reading.load import load_strategy
from telemetry.reading.switch import Switch
from telemetry.replay import log as logs
from telemetry.replay import runner as runners
from telemetry.replay.header import palette_for, plan_for
from telemetry.replay.log import RunLog
from telemetry.replay.runner import Runner, Shared
from telemetry.sample import SampleTable

STREAM = drive(*GOOD, (25, 25.5, "pink"), notes=[(0, "go"), (15, "half way")])
"""And, behind it, the same once more after a restart."""
PLAIN = ("hold", "checklist", "windows", "map-and-list", "evidence")


@pytest.fixture
def table() -> SampleTable:
    return table_of(STREAM + drive(*GOOD, start_ms=0, to_cm=29))


def in_blocks(table: SampleTable, size: int = 16) -> SampleTable:
    columns = {
        name: BlockColumn(table.rows, column.dtype, size, lambda k, one=column: one[k * size : (k + 1) * size].copy())
        for name, column in table.columns.items()
    }
    return replace(table, columns=columns)  # type: ignore[arg-type]


def read(strategy: str, table: SampleTable, switch: Switch) -> tuple[Runner, RunLog]:
    plan = replace(plan_for(load_strategy(strategy), row, palette_for(table, row, None), table), switch=switch).fresh()
    runner = Runner(plan)
    runner.advance(table)
    runner.finish()
    return runner, RunLog(runner, table, Shared())


def told(runner: Runner, log: RunLog) -> object:
    ranges = [(log.start + 70, log.start + 90), (log.start + 10, log.start + 20), (log.start + 190, log.start + 300)]
    log.trace(ranges)
    rows = [at for first, behind in ranges for at in range(first, behind)]
    walk = runner.walk
    return (
        runner.readings, [(one.start, one.stop) for one in runner.stretches], [log.labels(0, at) for at in rows],
        [list(one) for one in walk.legs], [list(one) for one in walk.places],
    )  # fmt: skip


@pytest.mark.parametrize("strategy", PLAIN)
def test_piece_by_piece_a_run_reads_as_at_once(strategy: str, table: SampleTable, monkeypatch: pytest.MonkeyPatch) -> None:
    expected = told(*read(strategy, table, Switch(after=None)))
    for module in (runners, logs):
        monkeypatch.setattr(module, "STEP_ROWS", 48)
    pieces = in_blocks(table)
    runner, log = read(strategy, pieces, Switch(after=None))
    assert runner.standing, "a long run can be stepped again from its middle"
    assert told(runner, log) == expected
    assert told(*read(strategy, pieces, Switch(after=0, least=0))) == expected


def test_in_machine_code_a_run_reads_the_same(table: SampleTable, monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("numba")
    expected = told(*read("hold", table, Switch(after=None)))
    for module in (runners, logs):
        monkeypatch.setattr(module, "STEP_ROWS", 100)
    switch = Switch(least=0, compile_from=1)
    assert told(*read("hold", in_blocks(table), switch)) == expected
    assert all(loop is not None for loop in switch._compiled.values())


def test_without_the_compiler_a_long_run_is_stepped_by_the_interpreter(
    table: SampleTable, monkeypatch: pytest.MonkeyPatch
) -> None:
    import sys

    from telemetry.reading import compiled

    monkeypatch.setitem(sys.modules, "numba", None)
    monkeypatch.setattr(compiled, "_functions", {})
    switch = Switch(least=0, compile_from=1)
    runner, _ = read("hold", table, switch)
    assert runner.readings == read("hold", table, Switch(after=None))[0].readings
    assert list(switch._compiled.values()) == [None, None]


def test_stops_and_columns_of_a_long_run_are_those_of_a_short_one(table: SampleTable) -> None:
    from telemetry.reading.needs import run_has
    from telemetry.replay.header import usable_columns

    pieces = in_blocks(table)
    assert run_has(pieces) == run_has(table)
    assert usable_columns(pieces, row) == usable_columns(table, row)
    assert palette_for(pieces, row, None) == palette_for(table, row, None)
    assert np.asarray(pieces.columns["t_us"]).tolist() == table.columns["t_us"].tolist()
