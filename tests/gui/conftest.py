"""The real window, offscreen, with its own settings and folder; nothing may be left over after a test."""

from __future__ import annotations

import gc
import os
import shutil
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

if os.environ.get("SIDELONG_TEST_SCREEN") is None:
    # Set to anything (under Xvfb, say) to drive windows on a real screen.
    os.environ["QT_QPA_PLATFORM"] = "offscreen"

from by_hand import FAST, RUNS
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication

from gui.application import make_application
from gui.model.ingesting import ingest
from gui.shell import make_window
from gui.window import Window
from telemetry.recording.meta import Meta
from telemetry.sources.synthetic.run import simulate


@pytest.fixture(scope="session")
def qapp() -> QApplication:
    return make_application()


@pytest.fixture(autouse=True)
def nothing_left_over(qapp: QApplication) -> Iterator[None]:
    """No thread of ours and no running timer outlives a test."""
    before = set(threading.enumerate())
    yield
    qapp.processEvents()
    gc.collect()
    # The one that listens to the process in which files of others are read first lives as long as the program.
    left = [one.name for one in set(threading.enumerate()) - before if one.is_alive() and one.name != "expendable"]
    assert not left, f"threads left over: {left}"
    running = [timer for widget in qapp.topLevelWidgets() for timer in widget.findChildren(QTimer) if timer.isActive()]
    assert not running, f"timers left over: {running}"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "runs"


@pytest.fixture
def window(qapp: QApplication, qtbot: Any, tmp_path: Path, folder: Path) -> Iterator[Window]:
    """The window, shown and loaded."""
    made = make_window(tmp_path / "settings.ini", folder, "light")
    with qtbot.waitSignal(made.ready, timeout=30_000):
        made.resize(1360, 860)
        made.show()
    made.activateWindow()
    qtbot.waitUntil(made.isActiveWindow, timeout=30_000)
    qtbot.waitUntil(lambda: made.workspace.shelf.listed, timeout=30_000)
    yield made
    made.close()
    qapp.processEvents()
    made.deleteLater()
    qapp.processEvents()


@pytest.fixture
def long_rests(monkeypatch: pytest.MonkeyPatch) -> None:
    """Time to press a key between two rounds, however busy the machine is: the robot stands six seconds longer.

    That it stands is seen after three of its seconds; the next round begins after four, at FAST a quarter of a second later.
    """
    for where in ("selection", "keeping"):
        monkeypatch.setattr(f"gui.model.{where}.ROBOT_RESTS_S", 5)


@pytest.fixture
def driving(window: Window, qtbot: Any) -> Window:
    """The window with the built-in robot driving on its pseudo-terminal."""
    follow = window.workspace.follow
    follow.start_built_in("practice", 7, speed_up=FAST)
    qtbot.waitUntil(lambda: follow.run is not None and follow.run.table.rows > 50, timeout=30_000)
    return window


@pytest.fixture(scope="session")
def ready(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A few runs, made once."""
    place = tmp_path_factory.mktemp("ready")
    for level, seed in RUNS:
        run = simulate(level, seed)
        text = place / f"{level} {seed}.txt"
        text.write_bytes(run.data)
        ingest(text, place, Meta(course=run.course.text, truth=run.truth, tags=(level,), simulated=True))
    return place


@pytest.fixture
def stocked(ready: Path, folder: Path, request: pytest.FixtureRequest, qtbot: Any) -> Window:
    """The window on a folder with these runs."""
    shutil.copytree(ready, folder, ignore=shutil.ignore_patterns("*.txt"))
    window: Window = request.getfixturevalue("window")
    qtbot.waitUntil(lambda: len(window.workspace.shelf.entries) == len(RUNS), timeout=30_000)
    window.show_place("runs")
    return window
