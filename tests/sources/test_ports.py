"""The list of serial ports."""

from __future__ import annotations

import pytest

from telemetry.sources.ports import PortInfo, serial_ports


def test_usb_comes_first_and_empty_descriptions_are_empty(monkeypatch: pytest.MonkeyPatch) -> None:
    found = [
        ("/dev/ttyS0", "n/a", 0, 0),
        ("/dev/ttyUSB1", "USB Serial", 0x1A86, 0x7523),
        ("/dev/ttyACM0", "/dev/ttyACM0", 0x2E8A, 5),
    ]
    monkeypatch.setattr("telemetry.sources.serial.port.listed_ports", lambda: found)
    assert serial_ports() == [
        PortInfo("/dev/ttyACM0", "", "2e8a:0005"),
        PortInfo("/dev/ttyUSB1", "USB Serial", "1a86:7523"),
        PortInfo("/dev/ttyS0", "", ""),
    ]
