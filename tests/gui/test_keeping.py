"""A run that was begun is kept, whoever dies and whatever fails in between; and nobody else's programs are touched."""

from __future__ import annotations

import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from by_hand import press
from PySide6.QtCore import Qt

from gui.model.follow import Follow
from gui.model.keeping import Keeper
from gui.model.settings import UserSettings
from gui.model.watch import WATCHING
from gui.model.workspace import Workspace
from gui.shell import make_window
from gui.window import Window
from telemetry.errors import StorageError
from telemetry.recording.cut import cut
from telemetry.recording.load import load
from telemetry.recording.meta import Meta


def more_rows(qtbot: Any, follow: Any, count: int) -> None:
    """Wait until so many samples have arrived from now on; on a busy computer earlier ones are still to be shown."""
    run, now_us = follow.run, time.time_ns() // 1000

    def arrived() -> bool:
        arrival_us = np.asarray(run.table.columns.get("arrival_us", ()))
        return int((arrival_us > now_us).sum()) > count

    qtbot.waitUntil(arrived, timeout=30_000)


def no_room(*_given: object, **_more: object) -> None:
    raise StorageError("no room", where="there", todo="Make some")


@pytest.fixture
def left(driving: Window, qtbot: Any) -> Iterator[tuple[subprocess.Popen[bytes], subprocess.Popen[bytes]]]:
    """A window that was closed in mid-recording with a mark; the capture and the robot that go on."""
    follow = driving.workspace.follow
    follow.start_recording()
    more_rows(qtbot, follow, 80)
    follow.mark("here")
    more_rows(qtbot, follow, 40)
    capture, robot = follow.programs.capture, follow.programs.robot
    assert capture is not None
    assert robot is not None
    driving.close()
    capture.returncode = robot.returncode = None
    yield capture, robot
    for process in (capture, robot):
        process.kill()
        process.wait(10)


@pytest.fixture
def heir(left: object, tmp_path: Path, folder: Path) -> Iterator[Follow]:
    """Another window's link, which has found the capture."""
    workspace = Workspace(UserSettings(tmp_path / "heir.ini"), folder)
    follow = workspace.follow
    assert follow.find_running()
    yield follow
    follow.disconnect_robot()
    workspace.deleteLater()


def test_a_mark_is_kept_though_its_window_closed(heir: Follow, folder: Path) -> None:
    path = heir.stop_recording()
    assert path is not None
    assert [mark.text for mark in load(path).marks] == ["here"]


def test_a_found_capture_that_dies_is_said_and_its_run_kept(heir: Follow, left: Any, qtbot: Any, folder: Path) -> None:
    more_rows(qtbot, heir, 20)
    for process in left:
        process.kill()
        process.wait(10)
    qtbot.waitUntil(lambda: not heir.connected, timeout=30_000)
    assert len(list(folder.glob("*.h5"))) == 1
    assert not list((folder / WATCHING).glob("*.watch"))


@pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")
def test_a_found_capture_that_does_not_listen_is_ended(heir: Follow, left: Any) -> None:
    capture, _ = left
    capture.send_signal(signal.SIGSTOP)
    heir.disconnect_robot()
    assert capture.wait(10) != 0


@pytest.mark.parametrize("how", ["by the user", "by the robot"])
def test_a_run_that_cannot_be_written_is_tried_again_at_the_next_start(
    driving: Window, qtbot: Any, tmp_path: Path, folder: Path, monkeypatch: pytest.MonkeyPatch, how: str
) -> None:
    follow = driving.workspace.follow
    follow.start_recording()
    more_rows(qtbot, follow, 150)
    robot = follow.programs.robot
    assert robot is not None
    with monkeypatch.context() as patched:
        patched.setattr("gui.model.keeping.cut", no_room)
        if how == "by the user":
            follow.disconnect_robot()
        else:
            robot.kill()
            qtbot.waitUntil(lambda: not follow.connected, timeout=30_000)
            message = driving.workspace.messages.current
            assert message is not None
            assert "no room" in message.text, "the cause is what can be mended"
            assert "tried again at the next start" in message.text
    assert not list(folder.glob("*.h5"))
    again = Workspace(UserSettings(tmp_path / "again.ini"), folder)
    again.follow.find_running()
    (path,) = folder.glob("*.h5")
    assert load(path).table.rows > 140
    assert not list((folder / WATCHING).glob("*.watch"))
    again.deleteLater()


def test_the_key_can_be_pressed_again_where_a_run_was_not_written(
    driving: Window, qtbot: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    follow = driving.workspace.follow
    press(qtbot, driving, Qt.Key.Key_R, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: follow.recording, timeout=30_000)
    more_rows(qtbot, follow, 100)
    with monkeypatch.context() as patched:
        patched.setattr("gui.model.keeping.cut", no_room)
        assert follow.stop_recording() is None
    assert follow.recording
    path = follow.stop_recording()
    assert path is not None
    assert load(path).table.rows > 90


def test_two_runs_in_one_drive_share_no_sample(driving: Window, qtbot: Any) -> None:
    follow = driving.workspace.follow
    for moving in (False, True):
        qtbot.waitUntil(lambda moving=moving: follow.run.moving == moving, timeout=30_000)
    numbers = []
    for _ in range(2):
        follow.start_recording()
        more_rows(qtbot, follow, 100)
        path = follow.stop_recording()
        assert path is not None
        numbers.append(load(path).table.columns["n"])
    assert len(numbers[1]) > 50
    assert not len(np.intersect1d(*numbers))


def test_a_copy_of_the_folder_ends_nothing_of_the_original(
    driving: Window, qtbot: Any, folder: Path, tmp_path: Path
) -> None:
    follow = driving.workspace.follow
    more_rows(qtbot, follow, 50)
    copy = tmp_path / "backup"
    shutil.copytree(folder, copy)
    second = make_window(tmp_path / "second.ini", copy, "light")
    with qtbot.waitSignal(second.ready, timeout=30_000):
        second.show()
    second.close()
    second.deleteLater()
    assert follow.programs.capture is not None
    assert follow.programs.robot is not None
    assert follow.programs.capture.poll() is None
    assert follow.programs.robot.poll() is None


def test_two_windows_that_keep_a_run_of_the_same_moment_keep_two(
    heir: Follow, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The second key is pressed while the first run is being written."""
    watch, run = heir.watch, heir.run
    assert watch is not None
    begin_us, now_us = watch.begun_us, watch.begun_us + 2_000_000
    paths: list[Path] = []
    workspace = Workspace(UserSettings(folder.parent / "keeper.ini"), folder)
    keeper = Keeper(workspace.folder, Meta, workspace.messages)

    def first_cut(*given: Any, **more: Any) -> Any:
        monkeypatch.setattr("gui.model.keeping.cut", cut)
        paths.append(keeper.keep(watch, begin_us, now_us, run))
        return cut(*given, **more)

    monkeypatch.setattr("gui.model.keeping.cut", first_cut)
    paths.append(keeper.keep(watch, begin_us, now_us, run))
    assert paths[0] != paths[1]
    assert all(load(path).table.rows > 50 for path in paths)
