"""Of many saved runs only so many samples are in memory at once; what comes out is the same."""

from __future__ import annotations

import pickle
import shutil
from pathlib import Path

import numpy as np
import pytest

from telemetry.errors import RecordingError
from telemetry.reading.load import load_strategy
from telemetry.recording.load import load
from telemetry.tuning import kept
from telemetry.tuning.evaluate import SettingsSweep
from telemetry.tuning.runs import saved_runs

RECORDINGS = sorted((Path(__file__).parents[2] / "recordings").glob("venue-*.h5"))[:5]


@pytest.fixture
def little(monkeypatch) -> int:
    """Room for one or two runs."""
    most = 2 * max(load(path).table.rows for path in RECORDINGS)
    monkeypatch.setattr(kept, "MOST_ROWS", most)
    monkeypatch.setattr(kept, "_samples", kept._Samples())
    return most


def test_a_sweep_over_more_than_fits(little: int, monkeypatch) -> None:
    strategies = [load_strategy(f"hold:hold.samples={k}") for k in (1, 3)]
    bounded = SettingsSweep(compiled=False).outcomes(saved_runs(RECORDINGS).runs, strategies)
    assert 0 < kept._samples.rows <= little < sum(load(path).table.rows for path in RECORDINGS)
    monkeypatch.setattr(kept, "MOST_ROWS", 1 << 40)
    whole = SettingsSweep(compiled=False).outcomes(saved_runs(RECORDINGS).runs, strategies)
    assert kept._samples.rows > little
    for name in ("counts", "right", "decided_ms", "open_slots"):
        np.testing.assert_array_equal(getattr(bounded, name), getattr(whole, name))


def test_it_is_read_where_it_is_sent(little: int) -> None:
    runs = saved_runs(RECORDINGS).runs
    data = pickle.dumps(runs[0])
    assert len(data) < 40_000, "without its samples"
    again, there = pickle.loads(data), load(RECORDINGS[0]).table
    assert again.table.rows == there.rows
    for name, column in there.columns.items():
        np.testing.assert_array_equal(again.table.columns[name], column)


def test_another_run_under_its_name_is_not_taken_for_it(little: int, tmp_path: Path) -> None:
    paths = [Path(shutil.copy(path, tmp_path / path.name)) for path in RECORDINGS]
    runs = saved_runs(paths).runs
    shutil.copy(Path(__file__).parents[2] / "recordings" / "extreme-01.h5", paths[0])
    with pytest.raises(RecordingError, match="changed while"):
        _ = runs[0].table.columns
