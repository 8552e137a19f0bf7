"""The serial ports of this computer."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class PortInfo:
    """A serial port: ``device`` is what to open (COM3, /dev/ttyUSB0), ``what`` how the system describes it, may be empty.

    ``usb``: vendor and product number as ``1a86:7523``, empty for a port that is not on USB.
    """

    device: str
    what: str
    usb: str


def serial_ports() -> list[PortInfo]:
    """Every serial port there is, those on USB first: robots are there. Empty where they cannot be listed."""
    from telemetry.sources.serial.port import listed_ports

    found = [
        PortInfo(
            device=device,
            what="" if what in {"n/a", device} else what,
            usb=f"{vendor:04x}:{product:04x}" if vendor else "",
        )
        for device, what, vendor, product in listed_ports()
    ]
    return sorted(found, key=lambda port: (not port.usb, port.device))
