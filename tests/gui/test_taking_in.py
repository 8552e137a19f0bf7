"""Files of others, taken in by the window: what is no stream leaves nothing behind and never holds it."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest

from gui.model.ingesting import ingest
from gui.model.processes import said_in
from gui.model.watch import WATCHING, Watch, found
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
