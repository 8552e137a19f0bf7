"""Files of others, taken in by the window: what is no stream leaves nothing behind and never holds it."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Any

import pytest
from by_hand import click

from gui.model.ingesting import ingest
from gui.model.processes import said_in
from gui.model.watch import WATCHING, Watch, found
from gui.places.record import RecordPlace
from gui.window import Window
from telemetry.errors import StorageError, StreamError
from telemetry.recording.meta import Meta


def test_a_text_without_a_sample_is_a_sentence_and_leaves_nothing(tmp_path: Path) -> None:
    (tmp_path / "letter.txt").write_text("Dear coach,\nthe lamp was off.\n")
    with pytest.raises(StreamError, match="no line of it is a sample"):
        ingest(tmp_path / "letter.txt", tmp_path / "runs", Meta())
    assert not list((tmp_path / "runs").iterdir())


@pytest.mark.skipif(sys.platform == "win32", reason="pipes and devices of POSIX")
def test_a_pipe_or_a_device_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.txt")
    (tmp_path / "zero.txt").symlink_to("/dev/zero")
    for name in ("pipe.txt", "zero.txt"):
        with pytest.raises(StreamError, match="not a plain file"):
            ingest(tmp_path / name, tmp_path / "runs", Meta())
        assert said_in(tmp_path / name) == ""


@pytest.mark.skipif(sys.platform == "win32", reason="links need a right there")
def test_nothing_is_cleared_away_behind_a_link(tmp_path: Path) -> None:
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "stop.watch").write_text("of another program")
    (tmp_path / "theirs").mkdir()
    (tmp_path / "theirs" / WATCHING).symlink_to(tmp_path / "mine")
    assert not list(found(tmp_path / "theirs", print))
    assert (tmp_path / "mine" / "stop.watch").exists()
    with pytest.raises(StorageError, match="link"):
        Watch.new(tmp_path / "theirs", "robot", simulated=True)


def test_a_log_of_several_runs_is_cut_into_them(window: Window, qtbot: Any, folder: Path, tmp_path: Path) -> None:
    """It all arrived at once, so only the robot's own times and distances tell the runs apart (simulated text)."""
    lines = ["#t/ms,colour,dist/mm"]
    for begin_ms in (0, 10_000, 20_000):
        lines += [f"{begin_ms + 20 * n},none,{min(6 * n, 600)}" for n in range(300)]
    (tmp_path / "log.txt").write_text("\n".join([*lines, ""]), encoding="utf-8")
    window.show_place("record")
    record = window.place
    assert isinstance(record, RecordPlace)
    record.take_in(tmp_path / "log.txt")
    qtbot.waitUntil(lambda: record.asked is not None, timeout=30_000)
    whole = record.asked
    assert whole is not None
    assert "3 runs" in record.cutting_box.words.text()
    click(qtbot, record.cutting_box.cut_button)
    qtbot.waitUntil(lambda: record.asked not in {None, whole}, timeout=30_000)
    assert sorted(path.stem for path in folder.glob("*.h5")) == [f"{whole.stem} run {number}" for number in (1, 2, 3)]
    window.workspace.undo.undo()
    assert list(folder.glob("*.h5")) == [whole]
