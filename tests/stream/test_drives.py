"""Runs are found where they are, in any pieces."""

from __future__ import annotations

import numpy as np
import pytest

from telemetry.sample import Chunk, Note, SampleTable
from telemetry.stream.drives import RunDetector, RunFound, drives, moves


def drive(*stretches: tuple[float, float], start_ms: int = 0, noise: float = 0.02) -> tuple[np.ndarray, np.ndarray]:
    """Times in us and distances in cm at 100 samples/s: stretches of (seconds, cm/s)."""
    speed = np.concatenate([np.full(round(seconds * 100), cm_s) for seconds, cm_s in stretches])
    t_us = start_ms * 1000 + np.arange(len(speed), dtype=np.int64) * 10_000
    wobble = np.random.default_rng(1).normal(0, noise, len(speed))
    return t_us, np.cumsum(speed / 100) + wobble


def chunk(t_us: np.ndarray, dist: np.ndarray, boot: int = 0, notes: tuple[Note, ...] = ()) -> Chunk:
    columns = {"t_us": t_us, "arrival_us": t_us, "boot": np.full(len(t_us), boot, np.int64), "dist": dist}
    return Chunk(columns, len(t_us), ("none",), notes=notes)


def found(cutter: RunDetector, chunks: list[Chunk], step: int) -> list[RunFound]:
    table, out = SampleTable(), []
    for one in chunks:
        for start in range(0, one.rows, step):
            part = {name: values[start : start + step] for name, values in one.columns.items()}
            rows = len(part["t_us"])
            notes = tuple(note for note in one.notes if table.rows <= note.row < table.rows + rows)
            table.append(Chunk(part, rows, one.colours, notes=notes))
            out += cutter.advance(table)
    return out + cutter.finish(table)


@pytest.mark.parametrize("step", [1, 7, 10_000])
def test_two_drives_are_two_runs(step: int) -> None:
    t_us, dist = drive((5, 0), (4, 50), (1, 0), (2, 50), (6, 0), (3, -30), (5, 0))
    first, second = found(RunDetector(), [chunk(t_us, dist)], step)
    # The lead of one second, less the 0.02 s that half a centimetre at 50 cm/s takes.
    assert (first.first, second.first) == pytest.approx((401, 1701), abs=4)
    # Three seconds after the last motion, which is seen for 0.3 s longer than it lasts.
    assert (first.last, second.last) == pytest.approx((1530, 2430), abs=5)
    assert first.why == "stood still for 3 s"


@pytest.mark.parametrize("step", [1, 10_000])
def test_a_robot_that_is_carried_a_little_or_set_to_zero_makes_no_run(step: int) -> None:
    t_us, dist = drive((5, 0), (0.3, 20), (6, 0))
    dist[700:] -= 60.0
    assert found(RunDetector(), [chunk(t_us, dist)], step) == []


def test_a_restart_ends_a_run() -> None:
    before = chunk(*drive((2, 0), (3, 40)))
    after = chunk(*drive((2, 40), (5, 0)), boot=1)
    first, second = found(RunDetector(), [before, after], 50)
    assert (first.last, first.why) == (499, "the robot restarted")
    assert second.first == 500


def test_notes_cut_where_motion_would_not() -> None:
    t_us, dist = drive((2, 0), (3, 40), (5, 0), (2, 40), (2, 0))
    notes = (Note(150, 0, 0, "go"), Note(1150, 0, 0, "done"))
    (run,) = found(RunDetector(start_note="go", stop_note="done"), [chunk(t_us, dist, notes=notes)], 10)
    assert (run.first, run.last, run.why) == (150, 1150, "note 'done'")


def test_a_run_that_is_going_on_at_the_end_is_kept() -> None:
    t_us, dist = drive((2, 0), (3, 40))
    (run,) = found(RunDetector(), [chunk(t_us, dist)], 100)
    assert (run.last, run.why) == (499, "the session ended")


def test_nothing_moves_where_nothing_was_sent() -> None:
    assert len(moves(SampleTable(), 0, 0)) == 0
    assert drives(SampleTable()) == []


@pytest.mark.parametrize(("wobble", "found"), [(0.05, False), (0.4, True)])
def test_without_distance_and_speed_only_a_change_of_light_is_motion(wobble: float, found: bool) -> None:
    """A standing sensor's light wavers too: by lamps, and by its own noise."""
    t_us = np.arange(600, dtype=np.int64) * 10_000
    light = 50.0 * (1.0 + wobble * np.sin(t_us / 150_000.0))
    columns = {"t_us": t_us, "arrival_us": t_us, "boot": np.zeros(600, np.int64), "refl": light}
    table = SampleTable()
    table.append(Chunk(columns, 600, ("none",)))
    assert bool(moves(table, 0, 600).any()) is found
