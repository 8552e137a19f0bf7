"""``sidelong capture ble:NAME`` as a process of its own, as a user runs it; bleak in it is unmodified too."""

from __future__ import annotations

import os
import queue
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from telemetry.errors import EXIT_LINK, EXIT_OK
from telemetry.recording.follow import Follower
from telemetry.recording.load import load
from telemetry.sources.ble.source import RADIO_NOTE

from .fake_bluez import FakeBluez, FakeRobot
from .reading import PATIENCE_S, cut, lines, wait_until

HEADER = b"#n,t/ms,colour,refl/%,red,green,blue,heading/deg,dist/cm\n"


@contextmanager
def capturing(path: Path, *words: str) -> Iterator[tuple[subprocess.Popen[str], queue.SimpleQueue[str]]]:
    command = [sys.executable, "-c", "import sys; from telemetry.cli import main; sys.exit(main())", "capture", *words]
    environment = os.environ | {"PYTHONUNBUFFERED": "1"}
    process = subprocess.Popen(
        [*command, "-o", str(path)], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=environment
    )
    said: queue.SimpleQueue[str] = queue.SimpleQueue()
    out = process.stdout
    assert out is not None

    def listen() -> None:
        for line in out:
            said.put(line.rstrip("\n"))

    listening = threading.Thread(target=listen)
    listening.start()
    try:
        yield process, said
    finally:
        if process.poll() is None:
            process.kill()
        process.wait()
        listening.join()
        out.close()


def said_until(said: queue.SimpleQueue[str], words: str) -> list[str]:
    heard: list[str] = []
    while not heard or words not in heard[-1]:
        heard.append(said.get(timeout=PATIENCE_S))
    return heard


def test_capture_over_ble_from_note_to_recording(bluetooth: FakeBluez, tmp_path: Path) -> None:
    robot = bluetooth.add(FakeRobot(mtu=247))
    path = tmp_path / "run.h5"
    with capturing(path, "ble:Robot 1", "--ble-greeting", "go") as (process, said):
        assert RADIO_NOTE in said_until(said, "capturing from ble:Robot 1")
        said_until(said, "connected over BLE: -57 dBm (strong), up to 244 bytes a notification")
        assert robot.received == [b"go\n"]
        bluetooth.send(robot, [HEADER, *lines(50)])
        bluetooth.drop(robot)
        said_until(said, "the stream is interrupted: the link dropped")
        wait_until(lambda: robot.subscribed, "the link came back")
        bluetooth.send(robot, [HEADER, *lines(80)[50:]])
        said_until(said, "data again")
        process.send_signal(signal.SIGINT)
        assert process.wait(PATIENCE_S) == EXIT_OK
        heard = said_until(said, "over BLE: ")
    sent = 2 * len(HEADER) + len(b"".join(lines(80)))
    assert f"over BLE: {sent} bytes in 82 notifications, 1 drop" in heard[-1]
    assert load(path).table.rows == 80
    assert len(load(path).gaps) == 1
    assert not robot.connected


def test_a_capture_that_finds_no_robot_is_one_sentence(bluetooth: FakeBluez, tmp_path: Path) -> None:
    with capturing(tmp_path / "run.h5", "ble:Robot 9", "--ble-timeout", "0.1") as (process, said):
        assert process.wait(PATIENCE_S) == EXIT_LINK
        heard = said_until(said, "sidelong: ")
    assert heard[-1].startswith("sidelong: ble:Robot 9: no such robot in range. Switch it on")
    assert list(tmp_path.iterdir()) == []


def test_a_killed_capture_leaves_the_robot_and_the_run(bluetooth: FakeBluez, tmp_path: Path) -> None:
    """The system keeps the link of a killed program: the next capture finds the robot all the same, and the run too."""
    robot = bluetooth.add(FakeRobot())
    with capturing(tmp_path / "one.h5", "ble:Robot 1") as (process, said):
        said_until(said, "connected over BLE")
        bluetooth.send(robot, cut(HEADER + b"".join(lines(5)), 20))
        watching = Follower(tmp_path / "one.h5")
        wait_until(lambda: (watching.poll(), watching.table.rows == 5)[1], "it is in the journal")
        watching.close()
        process.kill()
    assert robot.connected
    with capturing(tmp_path / "two.h5", "ble:Robot 1", "--ble-timeout", "0.5") as (process, said):
        said_until(said, "recovered")
        said_until(said, "connected over BLE")
        bluetooth.send(robot, [HEADER, *lines(3)])
        process.send_signal(signal.SIGINT)
        process.wait(PATIENCE_S)
    assert load(tmp_path / "one.h5").table.rows == 5
