"""The link to the robot: what happens to lines and runs when the window stalls, dies or closes, or the robot goes away."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from by_hand import press
from PySide6.QtCore import Qt

from gui.model.follow import Follow
from gui.model.settings import UserSettings
from gui.model.watch import WATCHING, Watch
from gui.model.workspace import Workspace
from gui.shell import make_window
from gui.window import Window
from telemetry.recording.load import load


def test_no_line_is_lost_while_the_window_stalls(driving: Window, qtbot: Any) -> None:
    follow = driving.workspace.follow
    run = follow.run
    assert run is not None
    press(qtbot, driving, Qt.Key.Key_R, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: follow.recording, timeout=30_000)
    rows = run.table.rows
    until = time.monotonic() + 1.5
    while time.monotonic() < until:
        pass  # holds the interpreter as a long drawing would
    qtbot.waitUntil(lambda: run.table.rows > rows + 300, timeout=30_000)
    path = follow.stop_recording()
    assert path is not None
    numbers = load(path).table.columns["n"]
    assert (np.diff(numbers.astype(np.int64)) == 1).all()


def test_a_window_that_dies_finds_its_capture_again(driving: Window, qtbot: Any, tmp_path: Path, folder: Path) -> None:
    follow = driving.workspace.follow
    follow.start_recording()
    run = follow.run
    assert run is not None
    rows = run.table.rows
    qtbot.waitUntil(lambda: run.table.rows > rows + 100, timeout=30_000)
    watch = follow.watch
    assert watch is not None
    # What a crash does: everything of this window is gone at once, its processes are not.
    follow._timer.stop()
    run.close()
    capture, robot = follow.programs.capture, follow.programs.robot
    follow.watch, follow.run = None, None
    follow.programs.capture = follow.programs.robot = None
    assert follow._hold is not None
    follow._hold.release()

    other = Workspace(UserSettings(tmp_path / "other.ini"), folder)
    found = Follow(other.selection, other.folder, other.robots, other.messages, other)
    assert found.find_running()
    assert found.recording
    assert found.run is not None
    second = found.run
    qtbot.waitUntil(lambda: second.table.rows > rows + 300, timeout=30_000)
    path = found.stop_recording()
    assert path is not None
    numbers = load(path).table.columns["n"].astype(np.int64)
    assert len(numbers) > 250
    assert (np.diff(numbers) == 1).all(), "nothing is missing where the first window died"
    found.disconnect_robot()
    for process in (capture, robot):
        assert process is not None
        process.wait(10)
    other.deleteLater()


def test_a_second_window_leaves_the_capture_of_a_living_one_alone(
    driving: Window, qtbot: Any, tmp_path: Path, folder: Path
) -> None:
    follow = driving.workspace.follow
    second = make_window(tmp_path / "second.ini", folder, "light")
    with qtbot.waitSignal(second.ready, timeout=30_000):
        second.show()
    assert not second.workspace.follow.connected
    assert "Another window" in second.message_bar.text
    follow.start_recording()
    second.close()
    rows = follow.run.table.rows  # type: ignore[union-attr]
    qtbot.waitUntil(lambda: follow.run.table.rows > rows + 100, timeout=30_000)
    path = follow.stop_recording()
    assert path is not None
    assert load(path).table.rows > 50
    second.deleteLater()


def test_closing_the_window_in_mid_recording_goes_on_and_is_found(
    driving: Window, qtbot: Any, tmp_path: Path, folder: Path
) -> None:
    follow = driving.workspace.follow
    follow.start_recording()
    capture, robot = follow.programs.capture, follow.programs.robot
    driving.close()
    again = make_window(tmp_path / "settings.ini", folder, "light")
    with qtbot.waitSignal(again.ready, timeout=30_000):
        again.show()
    assert again.workspace.follow.recording
    assert "still" in again.message_bar.text
    path = again.workspace.follow.stop_recording()
    assert path is not None
    assert load(path).table.rows > 10
    again.close()
    for process in (capture, robot):
        assert process is not None
        process.returncode = None
        process.wait(10)
    again.deleteLater()


def test_a_dropped_link_is_unmistakable(driving: Window, qtbot: Any) -> None:
    driving.show_place("live")
    live: Any = driving.places["live"]
    follow = driving.workspace.follow
    assert follow.programs.robot is not None
    follow.programs.robot.send_signal(signal.SIGSTOP)
    qtbot.waitUntil(lambda: "nothing for" in driving.link.text(), timeout=30_000)
    qtbot.waitUntil(lambda: "nothing for" in live.health.state.text(), timeout=30_000)
    assert live.health.property("kind") == "bad"
    assert live.stack.silent
    follow.programs.robot.send_signal(signal.SIGCONT)
    qtbot.waitUntil(lambda: live.health.property("kind") != "bad", timeout=30_000)


def test_a_robot_that_goes_away_for_good_is_said_and_the_run_kept(driving: Window, qtbot: Any, folder: Path) -> None:
    driving.show_place("live")
    live: Any = driving.places["live"]
    follow = driving.workspace.follow
    follow.start_recording()
    begun_us = follow.watch.begun_us
    # By arrival: a window with much to do shows rows later than they came.
    qtbot.waitUntil(lambda: (follow.run.table.columns["arrival_us"] >= begun_us).sum() > 100, timeout=30_000)
    assert follow.programs.robot is not None
    follow.programs.robot.kill()
    qtbot.waitUntil(lambda: not follow.connected, timeout=30_000)
    assert "kept" in driving.message_bar.text or "kept" in live.window().message_bar.text
    assert "ended" in live.health.state.text()
    kept = list(folder.glob("*.h5"))
    assert len(kept) == 1
    assert load(kept[0]).table.rows > 90


def test_notes_from_others_cannot_remove_or_stop_anything(window: Window, folder: Path, tmp_path: Path) -> None:
    """A folder of runs may come from anybody, with whatever is written in the notes of its captures."""
    mine = tmp_path / "mine.h5"
    mine.write_bytes(b"mine")
    place = folder / WATCHING
    place.mkdir(parents=True)
    other = subprocess.Popen([sys.executable, "-c", "import time; time.sleep(60)"])
    try:
        for number, more in enumerate(({}, {"begun_us": 5})):
            said = Watch(str(mine), "loop://", "x", simulated=True, capture_pid=other.pid, robot_pid=other.pid)
            (place / f"watch-{number}.watch").write_text(json.dumps({**vars(said), **more}))
        window.workspace.follow.find_running()
        assert other.poll() is None
    finally:
        other.kill()
        other.wait()
    assert mine.read_bytes() == b"mine"
    assert not list(place.iterdir()), "a capture that never was is forgotten"


@pytest.mark.parametrize(
    "wrong",
    [
        {"title": 5},
        {"capture_pid": "1"},
        {"begun_us": 1 << 200},
        {"begun_us": -1},
        {"begun_us": 1.5},
        {"marks": 1},
        {"marks": [["a", 1]]},
    ],
)
def test_notes_that_are_none_are_not_read(tmp_path: Path, wrong: dict[str, object]) -> None:
    notes = tmp_path / "watch-1.watch"
    good = vars(Watch(str(tmp_path / "watch-1.h5"), "loop://", "x"))
    notes.write_text(json.dumps(good))
    assert Watch.load(notes) is not None
    notes.write_text(json.dumps({**good, "of a newer version": 1}))
    assert Watch.load(notes) is not None
    notes.write_text(json.dumps({**good, **wrong}))
    assert Watch.load(notes) is None


@pytest.mark.skipif(sys.platform == "win32", reason="pipes of POSIX")
def test_pipes_and_folders_in_the_place_of_notes_are_passed_over(window: Window, folder: Path) -> None:
    place = folder / WATCHING
    (place / "watch-1.watch").mkdir(parents=True)
    os.mkfifo(place / "watch-2.watch")
    Watch(str(place / "watch-3.h5"), "loop://", "x").save()
    os.mkfifo(place / "watch-3.window")
    (place / "watch-4.watch").write_text("[" * 60_000)
    window.workspace.follow.find_running()
    assert not window.workspace.follow.connected


def test_only_what_bears_its_own_name_is_forgotten(tmp_path: Path) -> None:
    other = tmp_path / "watch-2.h5.journal"
    other.write_bytes(b"a run")
    for name in ("*", "watch-?", "[w]atch-2", "watch"):
        watch = Watch(str(tmp_path / f"{name}.h5"), "loop://", "x")
        if sys.platform != "win32":  # which has no such names
            watch.save()
        watch.forget()
        assert not watch.path.exists()
    assert other.read_bytes() == b"a run"


def test_a_number_of_another_program_is_no_capture_of_ours(tmp_path: Path) -> None:
    """After a restart of the machine the number may be anybody's."""
    assert not Watch(str(tmp_path / "watch-1.h5"), "loop://", "x", capture_pid=os.getpid()).captures


def test_a_clock_that_is_set_while_it_captures_costs_no_run(
    driving: Window, qtbot: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In a hall the computer finds a network, and its clock is set: an hour back, then two hours on."""
    follow, really = driving.workspace.follow, time.time_ns
    run = follow.run
    assert run is not None
    for hours in (-1, 2):
        monkeypatch.setattr(time, "time_ns", lambda hours=hours: really() + hours * 3_600_000_000_000)
        qtbot.waitUntil(lambda: not run.moving, timeout=30_000)  # at rest there is no sample to begin at
        follow.start_recording()
        follow.mark("here")
        assert follow.watch is not None
        begun_us = follow.watch.begun_us

        def arrived(begun_us: int = begun_us) -> int:
            """A window that was busy takes in later what had arrived before the run began."""
            return int((np.asarray(run.table.columns["arrival_us"]) >= begun_us).sum())

        qtbot.waitUntil(lambda arrived=arrived: arrived() > 200, timeout=30_000)
        assert follow.recorded_for() in {f"● recording {seconds} s" for seconds in range(60)}
        path = follow.stop_recording()
        assert path is not None, driving.workspace.messages.current
        recording = load(path)
        assert recording.table.rows >= 200
        assert [mark.text for mark in recording.marks] == ["here"]
