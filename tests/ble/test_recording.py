"""A run over BLE becomes a recording like any other: same samples as over a cable, a drop marked as a gap, health kept."""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from telemetry.recording.capture import Capture
from telemetry.recording.follow import Follower
from telemetry.recording.load import Recording, load
from telemetry.recording.meta import Meta
from telemetry.sources import open_source
from telemetry.sources.pseudo_terminal import PseudoTerminal
from telemetry.sources.source import Source
from telemetry.sources.synthetic.run import SimulatedRun, simulate

from .fake_bluez import FakeBluez, FakeRobot
from .reading import cut, lines, wait_until

HEADER = b"#n,t/ms,colour,refl/%,red,green,blue,heading/deg,dist/cm\n"


def received(capture: Capture, size: int) -> None:
    wait_until(lambda: capture.received >= size or capture.error is not None, f"{size} bytes came")
    assert capture.error is None


def seen(watching: Follower, holds: Callable[[], bool], what: str) -> None:
    wait_until(lambda: (watching.poll(), holds())[1], what)


def over_ble(bluetooth: FakeBluez, run: SimulatedRun, path: Path, carries: int) -> Recording:
    robot = bluetooth.add(FakeRobot(mtu=carries + 3))
    capture = Capture(open_source("ble:Robot 1"), path, Meta(source="ble:Robot 1", simulated=True))
    capture.start()
    bluetooth.send(robot, [chunk for line in run.lines for chunk in cut(line, carries)])
    received(capture, len(run.data))
    capture.close()
    return load(path)


def over_serial(run: SimulatedRun, path: Path) -> Recording:
    cable = PseudoTerminal()
    capture = Capture(open_source(cable.name), path, Meta(source=cable.name, simulated=True))
    capture.start()
    sending = threading.Thread(target=cable.send, args=(run.data,))
    sending.start()
    received(capture, len(run.data))
    sending.join()
    capture.close()
    cable.close()
    return load(path)


@pytest.mark.parametrize("carries", [20, 244])
def test_the_same_robot_over_serial_and_over_ble_gives_the_same_samples(
    bluetooth: FakeBluez, tmp_path: Path, carries: int
) -> None:
    run = simulate("venue", seed=3, checksum=True)
    ble = over_ble(bluetooth, run, tmp_path / "ble.h5", carries)
    serial = over_serial(run, tmp_path / "serial.h5")
    assert ble.table.rows == serial.table.rows > 100
    assert set(ble.table.columns) == set(serial.table.columns) >= {"t_us", "n", "red", "dist"}
    for name, column in ble.table.columns.items():
        if name != "arrival_us":  # the time at which this computer got it: that is the link's own
            np.testing.assert_array_equal(
                column[: ble.table.rows], serial.table.columns[name][: ble.table.rows], err_msg=name
            )
    assert [(note.row, note.t_us, note.text) for note in ble.table.notes] == [
        (note.row, note.t_us, note.text) for note in serial.table.notes
    ]
    assert (ble.summary.rejected, ble.summary.lost, ble.gaps, ble.table.colours) == (
        0,
        serial.summary.lost,
        [],
        serial.table.colours,
    )
    assert b"".join(data for _, data in ble.raw()) == b"".join(data for _, data in serial.raw()) == run.data


def captured(source: Source, path: Path) -> Capture:
    capture = Capture(source, path, Meta(source=source.where))
    capture.start()
    return capture


def test_a_drop_stays_in_one_recording_with_the_gap_marked(bluetooth: FakeBluez, robot: FakeRobot, tmp_path: Path) -> None:
    path = tmp_path / "run.h5"
    capture = captured(open_source("ble:Robot 1"), path)
    sent = lines(20)
    before, after = HEADER + b"".join(sent[:10]) + sent[10][:6], sent[14][3:] + HEADER + b"".join(sent[15:])
    bluetooth.send(robot, cut(before, 20))
    received(capture, len(before))
    watching = Follower(path)
    bluetooth.drop(robot)
    seen(watching, lambda: len(watching.gaps) == 1, "who watches sees the drop")
    wait_until(lambda: robot.subscribed, "the link came back")
    bluetooth.send(robot, cut(after, 20))
    received(capture, len(before) + len(after))
    capture.close()
    watching.close()
    run = load(path)
    assert run.table.columns["n"].tolist()[: run.table.rows] == [*range(10), *range(15, 20)]
    assert [(gap.row, gap.byte, gap.reason) for gap in run.gaps] == [(10, len(before), "the link dropped")]
    gap = run.gaps[0]
    assert gap.until_us is not None
    assert gap.until_us > gap.from_us
    # What was cut in two by the drop is kept and never glued together.
    assert [line.raw for line in run.table.rejected] == [sent[10][:6], sent[14][3:].rstrip()]
    assert b"".join(data for _, data in run.raw()) == before + after


def test_the_links_health_is_in_live_view_and_in_the_recording(bluetooth: FakeBluez, tmp_path: Path) -> None:
    robot = bluetooth.add(FakeRobot(mtu=247))
    path = tmp_path / "run.h5"
    capture = captured(open_source("ble:Robot 1"), path)
    watching = Follower(path)
    seen(watching, lambda: bool(watching.summary.link), "who watches is told how the link is doing")
    assert watching.summary.link["state"] == "connected"
    watching.close()
    bluetooth.send(robot, [HEADER, *lines(5)])
    received(capture, len(HEADER) + len(b"".join(lines(5))))
    bluetooth.drop(robot)
    wait_until(lambda: robot.subscribed, "the link came back")
    bluetooth.send(robot, lines(5))
    received(capture, len(HEADER) + 2 * len(b"".join(lines(5))))
    capture.close()
    link = load(path).summary.link
    assert (link["notifications"], link["bytes"]) == (11, capture.received)
    assert (link["drops"], link["reconnects"], link["mtu_bytes"], link["rssi_dbm"]) == (1, 1, 247, -57)


def test_a_robot_that_stays_away_ends_the_capture_and_keeps_the_run(
    bluetooth: FakeBluez, robot: FakeRobot, tmp_path: Path
) -> None:
    path = tmp_path / "run.h5"
    capture = captured(open_source("ble:Robot 1", reconnect_s=0.0), path)
    bluetooth.send(robot, [HEADER, *lines(5)])
    received(capture, len(HEADER) + 1)
    robot.in_range = False
    bluetooth.drop(robot)
    wait_until(lambda: not capture.running, "the capture ends")
    capture.close()
    assert str(capture.error).startswith("ble:Robot 1: the link dropped. Bring the robot nearer")
    assert load(path).table.rows == 5
    assert load(path).summary.link["state"] == "lost"
