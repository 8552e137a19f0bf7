"""The window is ended from outside: what it started ends with it, unless a run is being recorded."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from gui.model.processes import is_running

CHILD = """
import json, sys
from pathlib import Path
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QDialog
from gui.application import make_application, quit_on_interrupt
from gui.shell import make_window
app = make_application()
window = make_window(Path(sys.argv[1]) / "s.ini", Path(sys.argv[1]) / "runs", "light")
ticker = quit_on_interrupt(app)
follow = window.workspace.follow
def look():
    watch = follow.watch
    if follow.run is not None and follow.run.table.rows:
        timer.stop()
        print(json.dumps([watch.robot_pid, watch.capture_pid, watch.named]), flush=True)
        if sys.argv[2] == "asking":
            QDialog(window).exec()
timer = QTimer(); timer.timeout.connect(look); timer.start(50)
window.ready.connect(lambda: follow.start_built_in("practice", 7))
window.show()
app.exec()
"""


@pytest.mark.skipif(sys.platform == "win32", reason="another way to end a program there")
@pytest.mark.parametrize("state", ["at rest", "asking"])
def test_a_window_that_is_asked_to_end_takes_its_programs_with_it(tmp_path: Path, state: str) -> None:
    environment = {**os.environ, "QT_QPA_PLATFORM": "offscreen"}
    words = [sys.executable, "-c", CHILD, str(tmp_path), state]
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True, env=environment) as window:
        assert window.stdout is not None
        robot, capture, named = json.loads(window.stdout.readline())
        assert is_running(robot, named)
        assert is_running(capture, named)
        window.send_signal(signal.SIGTERM)
        try:
            assert window.wait(60) == 0
        finally:
            window.kill()
        end = time.monotonic() + 30
        while (is_running(robot, named) or is_running(capture, named)) and time.monotonic() < end:
            time.sleep(0.05)
        assert not is_running(robot, named)
        assert not is_running(capture, named)
