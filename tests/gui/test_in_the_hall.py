"""Mistakes of a coach five minutes before the match: each is said where it happens, hides nothing and loses nothing."""

from __future__ import annotations

import os
import signal
import socket
import sys
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QImage
from PySide6.QtWidgets import QMessageBox, QPushButton

from gui.panels import ask_leaving
from gui.panels.ask_leaving import Leaving, box_for, may_close
from gui.places.start import named_apart
from gui.window import Window


@pytest.fixture
def mute() -> Iterator[str]:
    """The address of a robot that is there and says nothing."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        yield f"socket://127.0.0.1:{server.getsockname()[1]}"


def test_a_robot_that_says_nothing_is_told_once_and_the_words_go_with_it(
    window: Window, qtbot: Any, mute: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("gui.model.nothing_yet.AFTER_S", 0.3)
    follow, messages = window.workspace.follow, window.workspace.messages
    follow.connect_robot(mute)
    qtbot.waitUntil(lambda: messages.current is not None and "Is it switched on" in messages.current.text, timeout=30_000)
    assert "another port" not in messages.current.text, "that is for cables"
    messages.clear()
    silence = follow.run.silence_s
    qtbot.waitUntil(lambda: follow.run.silence_s > silence + 1.0, timeout=30_000)
    assert messages.current is None, "it was read"
    follow.reconnect()
    qtbot.waitUntil(lambda: messages.current is not None and messages.current.action == "Disconnect", timeout=30_000)
    messages.act()
    assert not follow.connected
    assert messages.current is None


def test_a_run_in_which_nothing_came_is_said_without_the_name_of_a_file_nobody_knows(
    window: Window, qtbot: Any, mute: str
) -> None:
    follow, messages = window.workspace.follow, window.workspace.messages
    follow.connect_robot(mute)
    qtbot.waitUntil(lambda: follow.run is not None, timeout=30_000)
    follow.start_recording()
    assert follow.stop_recording() is None
    assert messages.current is not None
    assert messages.current.text == "nothing arrived in this time, so there is no run to keep. Check the link to the robot."


@pytest.mark.skipif(sys.platform == "win32", reason="a process cannot be stopped for a while there")
def test_a_link_that_is_silent_hides_nothing(driving: Window, qtbot: Any) -> None:
    """The plots, with their focus, and the cards beside them stay as they are; afterwards nobody waits any more."""
    driving.resize(1366, 748)
    driving.show_place("live")
    live: Any = driving.place
    live.stack.setFocus()
    follow = driving.workspace.follow
    os.kill(follow.watch.capture_pid, signal.SIGSTOP)
    try:
        qtbot.waitUntil(lambda: live.stack.silent and follow.run.silence_s > 1.0, timeout=30_000)
        qtbot.waitUntil(lambda: "nothing for" in live.health.state.text(), timeout=30_000)
        driving.grab()
        picture: QImage = live.stack.grab().toImage()
        side = live.health.parentWidget().parentWidget().parentWidget()
        assert side.horizontalScrollBar().maximum() == 0, "the cards are cut"
    finally:
        os.kill(follow.watch.capture_pid, signal.SIGCONT)
    bad = QColor(live.stack.theme.bad_ground).rgb()
    spots = [picture.pixel(x, y) for x in range(4, picture.width() - 4, 9) for y in range(4, picture.height() - 4, 9)]
    assert spots.count(bad) < len(spots) / 20, "only the words of the silence have this ground"
    follow.disconnect_robot()
    assert not live.stack.silent


@pytest.mark.parametrize("answer", list(Leaving))
def test_closing_while_a_run_is_recorded_is_asked(
    driving: Window, qtbot: Any, monkeypatch: pytest.MonkeyPatch, answer: Leaving
) -> None:
    follow, kept = driving.workspace.follow, []
    assert may_close(driving, follow), "nothing is recorded"
    follow.start_recording()
    rows = follow.run.table.rows
    qtbot.waitUntil(lambda: follow.run.table.rows > rows + 50, timeout=30_000)
    follow.kept.connect(kept.append)
    monkeypatch.setattr(ask_leaving, "ask_leaving", lambda _parent, _robot: answer)
    assert may_close(driving, follow) is (answer is not Leaving.STAY)
    assert follow.recording is (answer is not Leaving.KEEP)
    assert len(kept) == (answer is Leaving.KEEP)
    follow.drop_recording()


def test_a_run_that_cannot_be_kept_keeps_the_window_open(
    driving: Window, monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    follow = driving.workspace.follow
    follow.start_recording()
    monkeypatch.setattr(ask_leaving, "ask_leaving", lambda _parent, _robot: Leaving.KEEP)
    monkeypatch.setattr(follow, "stop_recording", lambda: None)
    assert not may_close(driving, follow)
    follow.drop_recording()


def test_the_question_keeps_the_run_by_return_and_stays_by_escape(window: Window, qtbot: Any) -> None:
    box, meaning = box_for(window, "<b>robot</b>")
    qtbot.addWidget(box)
    assert box.textFormat() == Qt.TextFormat.PlainText
    assert meaning[box.defaultButton()] is Leaving.KEEP
    assert meaning[box.escapeButton()] is Leaving.STAY
    assert len(box.findChildren(QPushButton)) == len(Leaving)
    assert isinstance(box, QMessageBox)


def test_two_robots_of_one_name_are_told_apart() -> None:
    heard = (("Cart", "AA:1"), ("Cart", "AA:2"), ("Van", "AA:3"), ("", "AA:4"))
    found: list[Any] = [SimpleNamespace(name=name, address=address, talks_uart=True) for name, address in heard]
    assert [one[:2] for one in named_apart(found)] == [
        ("ble:AA:1", "Cart (AA:1)   Bluetooth"), ("ble:AA:2", "Cart (AA:2)   Bluetooth"),
        ("ble:Van", "Van   Bluetooth"), ("ble:AA:4", "AA:4   Bluetooth"),
    ]  # fmt: skip
