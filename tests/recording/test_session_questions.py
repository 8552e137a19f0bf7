"""``sidelong session`` on a terminal: it asks after each run, again after a wrong answer, and may be left at a question."""

from __future__ import annotations

import os
import select
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from telemetry.recording.load import load

COURSE = """[course]
name = "two tags"
[[group]]
name = "tags"
distinct = ["rust", "leaf", "sky"]
[[slot]]
name = "tag 1"
group = "tags"
at_cm = 9
[[slot]]
name = "tag 2"
group = "tags"
at_cm = 20
"""


@pytest.mark.skipif(os.name != "posix", reason="pseudo-terminals are a POSIX thing")
def test_a_session_may_be_left_at_its_question(tmp_path: Path) -> None:
    (tmp_path / "course.toml").write_text(COURSE)
    ours, theirs = os.openpty()
    words = ["session", "robot:practice?seed=1&runs=2&speed_up=12", "--course", "course.toml", "--rest", "2"]
    said = b""

    def wait_for(text: bytes, times: int = 1) -> None:
        nonlocal said
        until = time.monotonic() + 60
        while said.count(text) < times:
            assert time.monotonic() < until, said.decode()
            assert session.poll() is None or select.select([ours], [], [], 0)[0], said.decode()
            if select.select([ours], [], [], 0.2)[0]:
                said += os.read(ours, 65536)

    command = [sys.executable, "-m", "telemetry.cli", *words]
    with subprocess.Popen(command, stdin=theirs, stdout=theirs, stderr=theirs, cwd=tmp_path) as session:
        try:
            wait_for(b"What stood there")
            os.write(ours, b"leaf\n")
            wait_for(b"the course has 2 slots")
            wait_for(b"What stood there", 2)
            wait_for(b"is asked about after")
            wait_for(b"2 runs still without a truth")
            # The robot has driven both, and the session's journal has gone before anybody has to answer.
            assert not list((tmp_path / "runs").glob("*.journal"))
            wait_for(b"What stood there", 3)
            os.write(ours, b"leaf,rust\n")
            wait_for(b"What stood there", 4)
            session.send_signal(signal.SIGINT)
            wait_for(b"later: sidelong runs truth")
            wait_for(b"next: sidelong compare runs")
            assert session.wait(30) == 0
        finally:
            session.kill()
            os.close(ours)
            os.close(theirs)
    # Two runs of one second differ by a number in their names, which sorts before the first one's ending.
    first, second = sorted((tmp_path / "runs").iterdir(), key=lambda path: (path.name[:19], len(path.name)))
    assert load(first).truth == ("leaf", "rust")
    assert load(second).truth is None
