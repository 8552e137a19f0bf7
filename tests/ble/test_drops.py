"""The link breaks, in every way a link breaks: said in its place in the stream, sought again, nothing left behind."""

from __future__ import annotations

import logging
import os
import threading

import pytest

from telemetry.errors import LinkError
from telemetry.sources.ble.source import BleSource, BleWish
from telemetry.sources.link_change import LinkChange

from .fake_bluez import FakeBluez, FakeRobot
from .private_bus import PrivateBus
from .reading import next_change, read_bytes, wait_until


def test_a_drop_is_said_in_its_place_and_the_link_comes_back(bluetooth: FakeBluez, robot: FakeRobot) -> None:
    source = BleSource("Robot 1")
    source.open()
    bluetooth.send(robot, [b"1,10\n", b"2,2"])
    bluetooth.drop(robot)
    wait_until(lambda: robot.subscribed, "the link came back")
    bluetooth.send(robot, [b"0\n9,90\n"])
    assert read_bytes(source, 8) == b"1,10\n2,2"
    dropped, _ = next_change(source)
    back, _ = next_change(source)
    assert (dropped.kind, dropped.what, dropped.where) == ("dropped", "the link dropped", "ble:Robot 1")
    assert back.kind == "back"
    assert back.away_s > 0
    assert back.what == f"the link is back after {back.away_s:.1f} s"
    assert read_bytes(source, 7) == b"0\n9,90\n"
    health = source.health()
    assert (health.drops, health.reconnects, health.state) == (1, 1, "connected")
    assert health.away_s == back.away_s
    source.close()


def test_the_log_tells_of_the_link(bluetooth: FakeBluez, robot: FakeRobot) -> None:
    """What happened in the hall can be looked up at home."""
    heard: list[tuple[str, str]] = []

    class Listening(logging.Handler):
        def emit(self, record: logging.LogRecord) -> None:
            heard.append((record.levelname, record.getMessage()))

    logger = logging.getLogger("telemetry.sources.ble.link")
    listening, level = Listening(), logger.level
    logger.addHandler(listening)
    logger.setLevel(logging.INFO)
    try:
        source = BleSource("Robot 1")
        source.open()
        bluetooth.drop(robot)
        assert next_change(source)[0].kind == "dropped"
        assert next_change(source)[0].kind == "back"
        source.close()
        with pytest.raises(LinkError):
            BleSource(BleWish("Robot\x1b 9", scan_timeout_s=0.2)).open()
    finally:
        logger.removeHandler(listening)
        logger.setLevel(level)
    words = [(level, text.partition(" after ")[0].partition(",")[0]) for level, text in heard]
    assert words[:4] == [
        ("INFO", "ble:Robot 1: connected"), ("WARNING", "ble:Robot 1: dropped: the link dropped"),
        ("INFO", "ble:Robot 1: back"), ("INFO", "ble:Robot 1: closed"),
    ]  # fmt: skip
    assert words[4][1].startswith("ble:Robot")
    assert "could not be connected: " in words[4][1]
    assert "\x1b" not in words[4][1]


def test_bytes_that_are_faster_than_the_confirmation_come_after_the_news(bluetooth: FakeBluez, robot: FakeRobot) -> None:
    robot.speaks_first = b"hello\n"
    source = BleSource("Robot 1")
    source.open()
    assert read_bytes(source, 6) == b"hello\n"
    bluetooth.drop(robot)
    assert next_change(source)[0].kind == "dropped"
    assert next_change(source)[0].kind == "back"
    assert read_bytes(source, 6) == b"hello\n"
    source.close()


def test_without_coming_back_a_drop_is_the_end(bluetooth: FakeBluez, robot: FakeRobot) -> None:
    source = BleSource(BleWish("Robot 1", give_up_s=0.0))
    source.open()
    bluetooth.drop(robot)
    with pytest.raises(LinkError, match=r"^ble:Robot 1: the link dropped\. Bring the robot nearer") as lost:
        next_change(source)
    assert not isinstance(lost.value, LinkChange)
    health = source.health()
    assert (health.state, health.drops, health.reconnects, robot.connects) == ("lost", 1, 0, 1)
    source.close()


def test_coming_back_takes_as_many_attempts_as_it_takes(bluetooth: FakeBluez, robot: FakeRobot) -> None:
    source = BleSource("Robot 1")
    source.open()
    robot.refuses = 3
    bluetooth.drop(robot)
    assert next_change(source)[0].kind == "dropped"
    assert next_change(source)[0].kind == "back"
    assert robot.connects == 5
    source.close()


def test_a_robot_that_the_system_forgot_is_looked_for_anew(bluetooth: FakeBluez, robot: FakeRobot) -> None:
    source = BleSource("Robot 1")
    source.open()
    bluetooth.drop(robot)
    bluetooth.forget(robot)
    assert next_change(source)[0].kind == "dropped"
    assert next_change(source)[0].kind == "back"
    source.close()


def test_a_robot_that_stays_away_ends_the_link_in_one_sentence(bluetooth: FakeBluez, robot: FakeRobot) -> None:
    source = BleSource(BleWish("Robot 1", give_up_s=0.3, scan_timeout_s=0.1, connect_timeout_s=0.2))
    source.open()
    robot.in_range = False
    bluetooth.drop(robot)
    assert next_change(source)[0].kind == "dropped"
    with pytest.raises(
        LinkError, match=r"^ble:Robot 1: the link dropped and did not come back within 0\.3 s \(.+\)\. .+"
    ) as lost:
        next_change(source)
    assert lost.value.exit_code == 4
    assert source.health().state == "lost"
    source.close()


def test_closing_while_the_link_is_away(bluetooth: FakeBluez, robot: FakeRobot) -> None:
    source = BleSource(BleWish("Robot 1", connect_timeout_s=5.0))
    source.open()
    robot.hangs = True
    bluetooth.drop(robot)
    assert next_change(source)[0].kind == "dropped"
    wait_until(lambda: robot.connects == 2, "it tries to come back")
    source.close()
    assert source.health().state == "closed"


def longest_silence_s(wish: BleWish) -> float:
    """Until a dead link is noticed, by its settings: a clock would also count what a busy machine waits."""
    return wish.silence_s + wish.probe_timeout_s


def test_a_service_that_dies_without_a_word_is_noticed_within_3_s(bluetooth: FakeBluez, robot: FakeRobot) -> None:
    source = BleSource("Robot 1")
    source.open()
    bluetooth.send(robot, [b"1,10\n"])
    assert read_bytes(source, 5)
    bluetooth.die()
    dropped, after_s = next_change(source)
    assert dropped.what == "the computer's Bluetooth service is not running, or the robot no longer answers"
    assert after_s > 1.0
    assert longest_silence_s(BleWish("Robot 1")) < 3.0
    bluetooth.come_back()
    assert next_change(source)[0].kind == "back"
    bluetooth.send(robot, [b"2,20\n"])
    assert read_bytes(source, 5) == b"2,20\n"
    source.close()


def test_a_service_that_hangs_is_noticed_within_3_s(bluetooth: FakeBluez, robot: FakeRobot) -> None:
    source = BleSource(BleWish("Robot 1", connect_timeout_s=0.2, scan_timeout_s=0.1))
    source.open()
    bluetooth.deaf = True
    dropped, after_s = next_change(source)
    assert dropped.kind == "dropped"
    assert after_s > 1.0
    assert longest_silence_s(BleWish("Robot 1")) < 3.0
    source.close()


def test_a_service_restarted_in_silence_is_noticed(bluetooth: FakeBluez, robot: FakeRobot) -> None:
    """It answers again before anyone asked, but it no longer knows of our connection."""
    source = BleSource(BleWish("Robot 1", silence_s=0.3))
    source.open()
    bluetooth.die()
    bluetooth.come_back()
    assert next_change(source)[0].kind == "dropped"
    assert next_change(source)[0].kind == "back"
    bluetooth.send(robot, [b"2,20\n"])
    assert read_bytes(source, 5) == b"2,20\n"
    source.close()


def test_a_robot_that_is_merely_quiet_is_left_alone(bluetooth: FakeBluez, robot: FakeRobot) -> None:
    source = BleSource(BleWish("Robot 1", silence_s=0.05))
    source.open()
    wait_until(lambda: bluetooth.calls.count("ReadValue") >= 3, "the silence was looked into")
    assert source.health().state == "silent"
    bluetooth.send(robot, [b"1,10\n"])
    assert read_bytes(source, 5) == b"1,10\n"
    assert source.health().state in {"connected", "silent"}
    assert source.health().drops == 0
    source.close()


def test_the_message_bus_itself_dies(monkeypatch: pytest.MonkeyPatch) -> None:
    bus = PrivateBus()
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", bus.address)
    bluetooth = FakeBluez(bus.address)
    robot = bluetooth.add(FakeRobot())
    source = BleSource(BleWish(robot.address, give_up_s=0.2, scan_timeout_s=0.1))
    source.open()
    bus.kill()
    dropped, _ = next_change(source)
    assert dropped.kind == "dropped"
    with pytest.raises(LinkError, match="did not come back within"):
        next_change(source)
    source.close()
    bluetooth.stop()
    bus.stop()


def open_descriptors() -> int:
    return len(os.listdir("/proc/self/fd"))  # noqa: PTH208 - a count, as cheap as it gets


def no_more_than(before: tuple[int, int]) -> bool:
    """Whether nothing leaked: `before` may hold an old pipe that was still closing, so fewer is as good as equal."""
    descriptors, threads = before
    return open_descriptors() <= descriptors and threading.active_count() <= threads


def test_300_connections_leak_no_descriptor_and_no_thread(bluetooth: FakeBluez, robot: FakeRobot) -> None:
    def once() -> None:
        source = BleSource("Robot 1")
        source.open()
        source.close()

    for _ in range(3):
        once()
    before = open_descriptors(), threading.active_count()
    for _ in range(300):
        once()
    wait_until(lambda: no_more_than(before), "all is given back")
    assert robot.connects == 303


@pytest.mark.parametrize("own_pipe", [False, True], ids=["over the bus", "own pipe"])
def test_30_drops_leak_no_descriptor_and_no_thread(bluetooth: FakeBluez, own_pipe: bool) -> None:
    robot = bluetooth.add(FakeRobot(acquirable=True))
    source = BleSource(BleWish("Robot 1", own_pipe=own_pipe))
    source.open()

    def drop_once() -> None:
        bluetooth.drop(robot)
        assert next_change(source)[0].kind == "dropped"
        assert next_change(source)[0].kind == "back"

    drop_once()
    before = open_descriptors(), threading.active_count()
    for _ in range(30):
        drop_once()
    wait_until(lambda: no_more_than(before), "all is given back")
    assert source.health().reconnects == 31
    source.close()
