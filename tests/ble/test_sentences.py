"""Every state a user meets: one plain sentence, what to do about it, and an exit code. Raised by unmodified bleak."""

from __future__ import annotations

import os
import re
import socket
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from bleak.exc import BleakBluetoothNotAvailableError, BleakBluetoothNotAvailableReason, BleakDBusError, BleakError

from telemetry.errors import EXIT_LINK, LinkError
from telemetry.sources.ble import errors as ble_errors
from telemetry.sources.ble.source import BleSource, BleWish, scan

from .fake_bluez import FakeBluez, FakeRobot
from .private_bus import DENIES_BLUETOOTH, REFUSES_EVERYBODY, PrivateBus

IMPATIENT = BleWish("Robot 1", scan_timeout_s=0.1, connect_timeout_s=0.2, write_timeout_s=0.2)


def sentence(raised: pytest.ExceptionInfo[LinkError]) -> tuple[str, str]:
    """What and todo; and that it is fit for a user: one line, no names of classes, modules or error codes."""
    error = raised.value
    assert error.exit_code == EXIT_LINK
    assert error.todo
    assert not re.search(r"\n|Error|Errno|bleak|org\.|dev_|None|\.$", str(error)), str(error)
    return error.what, error.todo


def opening(wish: BleWish = IMPATIENT) -> tuple[str, str]:
    source = BleSource(wish)
    with pytest.raises(LinkError) as raised:
        source.open()
    assert raised.value.where == f"ble:{wish.wanted}"
    source.close()
    return sentence(raised)


def scanning() -> tuple[str, str]:
    with pytest.raises(LinkError) as raised:
        scan(0.1)
    return sentence(raised)


def test_no_message_bus(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", f"unix:path={tmp_path}/none")
    assert scanning() == opening() == ble_errors.NO_SERVICE


def test_a_stale_socket(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.chdir(tmp_path)
    with socket.socket(socket.AF_UNIX) as left_behind:
        left_behind.bind("stale")
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", "unix:path=stale")
    assert scanning() == opening() == ble_errors.NO_SERVICE


@contextmanager
def not_root() -> Iterator[None]:
    """root may open any socket: look with a user's eyes."""
    was = os.geteuid()
    if was == 0:
        os.seteuid(65534)  # nobody
    try:
        yield
    finally:
        os.seteuid(was)


def test_a_socket_one_may_not_open(bus: PrivateBus) -> None:
    mode = bus.socket.stat().st_mode
    bus.socket.chmod(0)
    try:
        with not_root():
            assert scanning() == opening() == ble_errors.NO_PERMISSION
    finally:
        bus.socket.chmod(mode)


def test_the_login_is_refused_by_the_bus(monkeypatch: pytest.MonkeyPatch) -> None:
    bus = PrivateBus(REFUSES_EVERYBODY)
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", bus.address)
    try:
        assert scanning() == opening() == ble_errors.NO_PERMISSION
    finally:
        bus.stop()


def test_bluetooth_is_denied_by_the_bus(monkeypatch: pytest.MonkeyPatch) -> None:
    bus = PrivateBus(DENIES_BLUETOOTH)
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", bus.address)
    service = FakeBluez(bus.address)
    try:
        assert scanning() == opening() == ble_errors.NO_PERMISSION
    finally:
        service.stop()
        bus.stop()


def test_no_bluetooth_service(bus: PrivateBus) -> None:
    assert scanning() == opening() == ble_errors.NO_SERVICE


@pytest.mark.parametrize(
    ("how", "expected"),
    [
        ({"adapter": False}, ble_errors.NO_ADAPTER),
        ({"powered": False}, ble_errors.SWITCHED_OFF),
        ({"roles": ("peripheral",)}, ble_errors.NO_LOW_ENERGY),
    ],
    ids=["no adapter", "switched off", "too old"],
)
def test_the_adapter(bus: PrivateBus, how: dict[str, bool], expected: tuple[str, str]) -> None:
    service = FakeBluez(bus.address, **how)  # type: ignore[arg-type]
    try:
        assert scanning() == opening() == expected
    finally:
        service.stop()


def test_another_program_searches(bluetooth: FakeBluez) -> None:
    bluetooth.search_busy = True
    assert scanning() == opening() == ble_errors.ANOTHER_SCAN


@pytest.mark.parametrize("wanted", ["Robot 9", "C0:FF:EE:00:00:99", ""])
def test_not_found(bluetooth: FakeBluez, wanted: str) -> None:
    assert opening(BleWish(wanted, scan_timeout_s=0.1)) == ble_errors.NOT_FOUND


def test_forgotten_since_it_was_found(bluetooth: FakeBluez, robot: FakeRobot) -> None:
    robot.forgotten = True
    assert opening() == ble_errors.FORGOTTEN


def test_connecting_hangs(bluetooth: FakeBluez, robot: FakeRobot) -> None:
    robot.hangs = True
    assert opening() == ble_errors.TIMED_OUT


def test_connecting_is_refused(bluetooth: FakeBluez, robot: FakeRobot) -> None:
    robot.refuses = 1
    assert opening() == ble_errors.REFUSED


def test_the_service_hangs(bluetooth: FakeBluez, robot: FakeRobot) -> None:
    bluetooth.deaf = True
    source = BleSource(IMPATIENT)
    with pytest.raises(LinkError) as raised:
        source.open()
    assert sentence(raised) == ble_errors.NOT_ANSWERING


def test_found_but_no_such_service(bluetooth: FakeBluez) -> None:
    robot = bluetooth.add(FakeRobot(service="0000180d-0000-1000-8000-00805f9b34fb"))
    what, todo = opening()
    assert what == "the robot is there but has no service 6e400001-b5a3-f393-e0a9-e50e24dcca9e"
    assert todo == "It offers 0000180d-0000-1000-8000-00805f9b34fb; give the right one with --ble-service"
    assert not robot.connected


def test_found_but_no_such_characteristic(bluetooth: FakeBluez) -> None:
    robot = bluetooth.add(FakeRobot(notify="12345678-0000-4000-8000-00805f9b0002"))
    what, todo = opening()
    assert what.endswith("with notifications on 6e400003-b5a3-f393-e0a9-e50e24dcca9e")
    assert todo == "It offers 12345678-0000-4000-8000-00805f9b0002; give the right one with --ble-notify"
    assert not robot.connected


def test_a_write_is_never_answered(bluetooth: FakeBluez, robot: FakeRobot) -> None:
    robot.busy = True
    assert opening(BleWish("Robot 1", greeting="go", write_timeout_s=0.1)) == (
        "the robot does not take what is sent to it",
        "Switch the robot off and on and try again",
    )
    assert not robot.connected


def test_writing_after_a_drop(bluetooth: FakeBluez, robot: FakeRobot) -> None:
    source = BleSource(BleWish("Robot 1", connect_timeout_s=0.2))
    source.open()
    robot.hangs = True
    bluetooth.drop(robot)
    with pytest.raises(LinkError) as raised:
        source.send_line("go")
    assert sentence(raised) == ble_errors.DROPPED
    source.close()
    with pytest.raises(LinkError) as raised:
        source.send_line("go")
    assert sentence(raised) == ble_errors.DROPPED


@pytest.mark.parametrize("reason", BleakBluetoothNotAvailableReason)
def test_every_reason_that_bleak_knows_has_its_sentence(reason: BleakBluetoothNotAvailableReason) -> None:
    """Those of Windows and macOS too, which cannot be raised here."""
    error = ble_errors.translated(BleakBluetoothNotAvailableError("words of the system", reason), "Bluetooth")
    known = reason is not BleakBluetoothNotAvailableReason.UNKNOWN
    assert ("words of the system" in str(error)) is not known


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (BleakError("Service Discovery has not been performed yet"), "the link dropped"),
        (BleakError("something new."), "Bluetooth reports: something new"),
        (BleakDBusError("org.bluez.Error.Strange", []), "Bluetooth reports: org.bluez.Error.Strange"),
        (TimeoutError(), "the robot was found but does not answer"),
        (EOFError(), "the computer's Bluetooth service is not running"),
        (BleakError(), "Bluetooth reports: BleakError"),
    ],
)
def test_what_is_not_in_the_table_is_said_in_its_own_words(error: BaseException, words: str) -> None:
    translated = ble_errors.translated(error, "ble:Robot 1")
    assert translated.what == words
    assert translated.where == "ble:Robot 1"
    assert translated.todo


def test_an_error_of_ours_stays_as_it_is() -> None:
    error = LinkError("the link dropped")
    assert ble_errors.translated(error, "ble:Robot 1") is error
