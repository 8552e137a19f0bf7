"""A robot over BLE, through unmodified bleak: found, read byte-exact, greeted, closed."""

from __future__ import annotations

import random
import threading
from concurrent.futures import ThreadPoolExecutor

import pytest

from telemetry.errors import LinkError
from telemetry.sources.ble.source import UART_NOTIFY, UART_SERVICE, UART_WRITE, BleDevice, BleSource, BleWish, scan
from telemetry.sources.source import EndOfStream

from .fake_bluez import FakeBluez, FakeRobot
from .reading import cut, lines, read_bytes, wait_until

HEART_RATE = "0000180d-0000-1000-8000-00805f9b34fb"  # Bluetooth SIG, Assigned Numbers: Heart Rate 0x180D


def test_scan_tells_what_devices_say_of_themselves_strongest_first(bluetooth: FakeBluez, robot: FakeRobot) -> None:
    bluetooth.add(FakeRobot(name=None, address="C0:FF:EE:00:00:02", rssi_dbm=-40, service=HEART_RATE))
    assert scan(0.2) == [
        BleDevice("", "C0:FF:EE:00:00:02", -40, (HEART_RATE,)),
        BleDevice("Robot 1", "C0:FF:EE:00:00:01", -57, (UART_SERVICE,)),
    ]
    assert [device.talks_uart for device in scan(0.2)] == [False, True]


def test_the_uart_service_is_the_published_one() -> None:
    # The chip vendor's published service, a de facto convention.
    assert UART_SERVICE.upper() == "6E400001-B5A3-F393-E0A9-E50E24DCCA9E"
    assert UART_NOTIFY.upper() == "6E400003-B5A3-F393-E0A9-E50E24DCCA9E"
    assert UART_WRITE.upper() == "6E400002-B5A3-F393-E0A9-E50E24DCCA9E"


def test_scans_at_once_wait_for_each_other(bluetooth: FakeBluez, robot: FakeRobot) -> None:
    with ThreadPoolExecutor(3) as threads:
        found = list(threads.map(lambda _: scan(0.1), range(3)))
    assert [[device.name for device in devices] for devices in found] == [["Robot 1"]] * 3


# Bluetooth Core Specification, Vol 3, Parts F and G: a notification carries ATT MTU - 3 bytes, 20 of 23 and 244 of 247.
@pytest.mark.parametrize(("mtu", "carries"), [(23, 20), (247, 244)])
@pytest.mark.parametrize("own_pipe", [False, True], ids=["over the bus", "own pipe"])
def test_100_lines_a_second_arrive_byte_exact(bluetooth: FakeBluez, mtu: int, carries: int, own_pipe: bool) -> None:
    robot = bluetooth.add(FakeRobot(mtu=mtu, acquirable=True))
    sent = lines(150)
    source = BleSource(BleWish("Robot 1", own_pipe=own_pipe))
    source.open()
    assert bluetooth.calls[-1] == ("AcquireNotify" if own_pipe else "StartNotify")
    for_each_line = [chunk for line in sent for chunk in cut(line, carries)]
    rate = len(for_each_line) / len(sent) * 100
    sender = threading.Thread(target=bluetooth.send, args=(robot, for_each_line, 1 / rate))
    sender.start()
    data = read_bytes(source, len(b"".join(sent)))
    sender.join()
    health = source.health()
    source.close()
    assert data == b"".join(sent)
    assert (health.notifications, health.bytes) == (len(for_each_line), len(data))
    assert (health.mtu_bytes, health.payload_bytes, health.rssi_dbm, health.drops) == (mtu, carries, -57, 0)


@pytest.mark.parametrize("own_pipe", [False, True], ids=["over the bus", "own pipe"])
def test_a_flood_in_notifications_of_any_size_arrives_complete(bluetooth: FakeBluez, own_pipe: bool) -> None:
    robot = bluetooth.add(FakeRobot(mtu=247, acquirable=True))
    sent, sizes, chunks = b"".join(lines(3000)), random.Random(7), []
    rest = sent
    while rest:
        size = sizes.randint(1, 244)
        chunks.append(rest[:size])
        rest = rest[size:]
    source = BleSource(BleWish("Robot 1", own_pipe=own_pipe))
    source.open()
    bluetooth.send(robot, chunks)
    assert read_bytes(source, len(sent)) == sent
    source.close()


@pytest.mark.parametrize("wanted", ["Robot 1", "robot 1", "C0:FF:EE:00:00:01", "c0:ff:ee:00:00:01", ""])
def test_a_robot_is_chosen_by_name_by_address_or_for_being_the_only_one(bluetooth: FakeBluez, wanted: str) -> None:
    bluetooth.add(FakeRobot(name="Watch", address="C0:FF:EE:00:00:09", service=HEART_RATE))
    robot = bluetooth.add(FakeRobot())
    source = BleSource(BleWish(wanted, scan_timeout_s=1.0))
    source.open()
    assert robot.connected
    assert source.where == "ble:Robot 1"
    source.close()
    assert not robot.connected


def test_among_several_robots_one_must_be_named(bluetooth: FakeBluez, robot: FakeRobot) -> None:
    bluetooth.add(FakeRobot(name="Robot 2", address="C0:FF:EE:00:00:02"))
    with pytest.raises(LinkError, match=r"several robots are in range. Say which one: ble:Robot \d, ble:Robot \d"):
        BleSource(BleWish("", scan_timeout_s=0.2)).open()


def test_another_service_can_be_given(bluetooth: FakeBluez) -> None:
    service, notify = "12345678-0000-4000-8000-00805f9b0001", "12345678-0000-4000-8000-00805f9b0002"
    robot = bluetooth.add(FakeRobot(service=service, notify=notify, write=None))
    source = BleSource(BleWish("Robot 1", service=service.upper(), notify=notify.upper()))
    source.open()
    bluetooth.send(robot, [b"#n,t/ms\n"])
    assert read_bytes(source, 8) == b"#n,t/ms\n"
    with pytest.raises(LinkError, match=r"has no service .* that can be written to"):
        source.send_line("go")
    source.close()


def test_a_robot_that_waits_to_be_asked_is_asked_at_each_connecting(bluetooth: FakeBluez) -> None:
    robot = bluetooth.add(FakeRobot(mtu=23))
    robot.on_write = lambda data: bluetooth.send(robot, [b"1,10\n"]) if data.endswith(b"\n") else None
    source = BleSource(BleWish("Robot 1", greeting="please send what you see"))
    source.open()
    assert read_bytes(source, 5) == b"1,10\n"
    assert robot.received == [b"please send what you", b" see\n"]  # at most 20 bytes at once
    source.send_line("stop")
    assert robot.received[-1] == b"stop\n"
    source.close()


def test_a_robot_left_connected_by_a_killed_program_is_found_all_the_same(bluetooth: FakeBluez, robot: FakeRobot) -> None:
    killed = BleSource("Robot 1")
    killed.open()
    assert killed._loop is not None
    bluetooth.mute_disconnect = True  # a killed program says no goodbye
    killed.close()
    bluetooth.mute_disconnect = False
    assert robot.connected
    source = BleSource(BleWish("Robot 1", scan_timeout_s=0.3))
    source.open()
    bluetooth.send(robot, [b"1,10\n"])
    assert read_bytes(source, 5) == b"1,10\n"
    source.close()


def test_closing_ends_a_read_that_waits(bluetooth: FakeBluez, robot: FakeRobot) -> None:
    source = BleSource("Robot 1")
    source.close()  # allowed before open
    source.open()
    with ThreadPoolExecutor(1) as threads:
        waiting = threads.submit(source.read, 20.0)
        source.close()
        with pytest.raises(EndOfStream):
            waiting.result(20)
    source.close()
    with pytest.raises(EndOfStream):
        source.read(0.0)
    with pytest.raises(EndOfStream):
        source.read(0.0)
    assert bluetooth.calls[-2:] == ["StopNotify", "Disconnect"]
    assert source.health().state == "closed"


def test_what_came_before_closing_is_still_read(bluetooth: FakeBluez, robot: FakeRobot) -> None:
    source = BleSource("Robot 1")
    source.open()
    bluetooth.send(robot, [b"1,10\n", b"2,20\n"])
    wait_until(lambda: source.health().notifications == 2, "the notifications came")
    source.close()
    assert source.read(1.0) == b"1,10\n2,20\n"


def test_reading_times_out_with_nothing(bluetooth: FakeBluez, robot: FakeRobot) -> None:
    source = BleSource("Robot 1")
    source.open()
    assert source.read(0.0) == b""
    assert source.read(0.01) == b""
    source.close()


def test_a_source_can_be_opened_again(bluetooth: FakeBluez, robot: FakeRobot) -> None:
    source = BleSource("Robot 1")
    for _ in range(2):
        source.open()
        bluetooth.send(robot, [b"1,10\n"])
        assert read_bytes(source, 5) == b"1,10\n"
        source.close()
