"""``sidelong ports``: both kinds of link, the exact command for each, and no Bluetooth is no failure."""

from __future__ import annotations

import shlex

import pytest

from telemetry import cli
from telemetry.commands import ports
from telemetry.errors import EXIT_OK, EXIT_USAGE
from telemetry.sources.ble.source import RADIO_NOTE, UART_SERVICE, BleDevice
from telemetry.sources.ports import PortInfo

from .fake_bluez import FakeBluez, FakeRobot


@pytest.fixture(autouse=True)
def two_serial_ports(monkeypatch: pytest.MonkeyPatch) -> None:
    found = [PortInfo("/dev/ttyUSB0", "USB Serial", "1a86:7523"), PortInfo("/dev/ttyS0", "", "")]
    monkeypatch.setattr("telemetry.sources.ports.serial_ports", lambda: found)


def test_serial_ports_and_robots_together(
    bluetooth: FakeBluez, robot: FakeRobot, capsys: pytest.CaptureFixture[str]
) -> None:
    bluetooth.add(
        FakeRobot(name="Watch", address="C0:FF:EE:00:00:09", rssi_dbm=-88, service="0000180d-0000-1000-8000-00805f9b34fb")
    )
    assert cli.main(["ports", "--ble-timeout", "0.2"]) == EXIT_OK
    assert capsys.readouterr().out.splitlines() == [
        "Serial ports:",
        "  /dev/ttyUSB0  USB Serial, USB 1a86:7523",
        "      sidelong capture /dev/ttyUSB0",
        "  /dev/ttyS0  a serial port, not on USB: rarely a robot",
        "      sidelong capture /dev/ttyS0",
        "",
        "BLE devices heard within 0.2 s:",
        "  Robot 1  C0:FF:EE:00:00:01, -57 dBm (strong); offers the UART service: may be a robot",
        "      sidelong capture 'ble:Robot 1'",
        "  Others (for a robot with a service of its own: sidelong capture ble:NAME --ble-service UUID):",
        "    Watch  C0:FF:EE:00:00:09, -88 dBm (weak: go nearer)",
        "",
        RADIO_NOTE,
    ]


def test_without_bluetooth_the_serial_ports_are_listed_all_the_same(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["ports"]) == EXIT_OK
    out = capsys.readouterr()
    assert "sidelong capture /dev/ttyUSB0" in out.out
    assert out.out.splitlines()[-1].startswith("BLE: the computer's Bluetooth service is not running. Start it (on Linux:")
    assert out.err == ""


def test_no_ble_does_not_touch_bluetooth(bluetooth: FakeBluez, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["ports", "--no-ble"]) == EXIT_OK
    assert bluetooth.calls == []
    assert "BLE" not in capsys.readouterr().out


def test_nothing_there_says_what_to_do() -> None:
    assert ports.serial_lines([])[-1].startswith("  none. Plug the robot in")
    assert ports.ble_lines([], 5)[-1].startswith("  no robot: none offers the UART service. Switch it on")


def robot_called(name: str, address: str = "C0:FF:EE:00:00:01") -> BleDevice:
    return BleDevice(name, address, None, (UART_SERVICE,))


@pytest.mark.parametrize("name", ["", "Robot\x1b[31m", "Robot\u202e1", " Robot"], ids=["none", "escape", "turned", "space"])
def test_a_name_that_cannot_be_typed_gives_the_address(name: str) -> None:
    lines = ports.ble_lines([robot_called(name)], 5)
    assert lines[2] == "      sidelong capture ble:C0:FF:EE:00:00:01"
    assert "".join(lines).isprintable()


def test_robots_of_one_name_are_told_apart_by_address() -> None:
    lines = ports.ble_lines([robot_called("Robot"), robot_called("robot", "C0:FF:EE:00:00:02")], 5)
    assert [line.split()[-1] for line in lines if "capture" in line] == ["ble:C0:FF:EE:00:00:01", "ble:C0:FF:EE:00:00:02"]


@pytest.mark.parametrize("name", ["Robot", "Our Robot", "it's", "$(reboot)", "a;b", '"'])
def test_the_command_survives_the_shell(name: str) -> None:
    assert shlex.split(ports.capture_command(f"ble:{name}")) == ["sidelong", "capture", f"ble:{name}"]


@pytest.mark.parametrize("seconds", ["0", "-1", "61", "nan"])
def test_a_time_out_of_range(seconds: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["ports", f"--ble-timeout={seconds}"]) == EXIT_USAGE
    assert "--ble-timeout" in capsys.readouterr().err


def test_a_device_that_calls_itself_by_the_robots_address_is_not_the_robot() -> None:
    address = "C0:FF:EE:00:00:01"
    robot, other = BleDevice("Robot", address, None, ()), BleDevice(address.lower(), "C0:FF:EE:00:00:66", None, ())
    assert robot.is_called(address.lower())
    assert robot.is_called("robot")
    assert not other.is_called(address)
