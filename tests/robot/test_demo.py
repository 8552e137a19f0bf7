"""The demonstration: real processes on a real link, a table, and where everything lies."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from telemetry.cli import main
from telemetry.commands import demo_runs
from telemetry.errors import EXIT_LINK, EXIT_STORAGE, EXIT_USAGE
from telemetry.recording.load import load
from telemetry.sources.synthetic import LEVELS, simulate


def test_it_captures_compares_and_says_what_to_do_next(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "demo"
    assert main(["demo", "--folder", str(folder), "--runs", "1", "--speed-up", "25", "--seed", "2"]) == 0
    said = capsys.readouterr().out
    assert "SIMULATED" in said
    assert "25 times as fast" in said
    assert all(level in said for level in LEVELS)
    assert "map-and-list" in said
    assert f"sidelong compare {folder} --why" in said
    assert sorted(path.name for path in folder.glob("*.h5")) == sorted(f"{level}-2.h5" for level in LEVELS)
    for level in LEVELS:
        recording = load(folder / f"{level}-2.h5")
        run = simulate(level, 2)
        assert recording.table.rows == len(run.sample_ms) - run.sample_lost.sum()
        assert recording.truth == run.truth
        assert recording.meta.simulated


@pytest.mark.parametrize("words", [["--runs", "0"], ["--speed-up", "0"], ["--seed", "-1"]])
def test_mistyped(words: list[str], tmp_path: Path) -> None:
    assert main(["demo", "--folder", str(tmp_path / "demo"), *words]) == EXIT_USAGE
    assert not (tmp_path / "demo").exists()


def test_nothing_is_overwritten(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["demo", "--folder", str(tmp_path)]) == EXIT_STORAGE
    assert "--folder" in capsys.readouterr().err


def test_a_robot_that_does_not_start_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(demo_runs, "own_command", lambda words: [sys.executable, "-c", "import sys; sys.exit('no power')"])
    assert main(["demo", "--folder", str(tmp_path / "demo")]) == EXIT_LINK
    assert "no power" in capsys.readouterr().err
