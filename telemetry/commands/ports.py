"""``sidelong ports``: where a robot may be, on a cable or over Bluetooth, and the exact words to capture from it."""

from __future__ import annotations

import argparse
import os
import shlex
import subprocess
from collections import Counter
from collections.abc import Iterable
from typing import TYPE_CHECKING

from telemetry.commands.options import old_name
from telemetry.errors import EXIT_OK, LinkError, UsageError

if TYPE_CHECKING:
    from telemetry.sources.ble.source import BleDevice
    from telemetry.sources.ports import PortInfo

LONGEST_S = 60.0


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--no-ble", action="store_true", help="list serial ports only, without using Bluetooth")
    parser.add_argument("--ble-timeout", type=float, default=5.0, metavar="S", help="how long to listen (default: 5)")
    old_name(parser, "--timeout", "--ble-timeout", type=float, metavar="S")


def run(args: argparse.Namespace) -> int:
    from telemetry.sources.ports import serial_ports

    if not 0.0 < args.ble_timeout <= LONGEST_S:
        raise UsageError(f"--ble-timeout must be more than 0 and at most {LONGEST_S:.0f} seconds")
    _print(serial_lines(serial_ports()))
    if args.no_ble:
        return EXIT_OK
    from telemetry.sources.ble.source import RADIO_NOTE, scan

    print(flush=True)
    try:
        devices = scan(args.ble_timeout)
    except LinkError as error:
        print(f"BLE: {error}")
        return EXIT_OK
    _print(ble_lines(devices, args.ble_timeout))
    print(f"\n{RADIO_NOTE}")
    return EXIT_OK


def _print(lines: Iterable[str]) -> None:
    for line in lines:
        print(line, flush=True)


def capture_command(source: str) -> str:
    """The command line that captures from ``source``, quoted for this system's shell."""
    words = ["sidelong", "capture", source]
    return subprocess.list2cmdline(words) if os.name == "nt" else shlex.join(words)


def serial_lines(ports: Iterable[PortInfo]) -> list[str]:
    """What to print of the serial ports."""
    from telemetry.report.table import printable

    lines = ["Serial ports:"]
    for port in ports:
        what = printable(port.what) or "a serial port"
        usb = f", USB {port.usb}" if port.usb else ", not on USB: rarely a robot"
        lines += [f"  {printable(port.device)}  {what}{usb}", f"      {capture_command(port.device)}"]
    if len(lines) == 1:
        lines.append("  none. Plug the robot in with a cable that carries data, and switch it on")
    return lines


def ble_lines(devices: Iterable[BleDevice], timeout_s: float) -> list[str]:
    """What to print of the BLE devices: robots first, each with its command; the others on one line each."""
    from telemetry.report.link_words import strength_words
    from telemetry.report.table import printable

    everything = list(devices)
    names = Counter(device.name.lower() for device in everything)
    robots = [device for device in everything if device.talks_uart]
    others = [device for device in everything if not device.talks_uart]
    lines = [f"BLE devices heard within {timeout_s:g} s:"]
    for device in robots:
        clear = (
            device.name
            and device.name.isprintable()
            and device.name == device.name.strip()
            and names[device.name.lower()] == 1
        )
        title = printable(device.name) or "(no name)"
        lines.append(
            f"  {title}  {device.address}, {strength_words(device.rssi_dbm)}; offers the UART service: may be a robot"
        )
        lines.append(f"      {capture_command(f'ble:{device.name if clear else device.address}')}")
    if not robots:
        lines.append("  no robot: none offers the UART service. Switch it on, and close what else is connected to it")
    if others:
        lines.append("  Others (for a robot with a service of its own: sidelong capture ble:NAME --ble-service UUID):")
        lines += [
            f"    {printable(one.name) or '(no name)'}  {one.address}, {strength_words(one.rssi_dbm)}" for one in others
        ]
    return lines
