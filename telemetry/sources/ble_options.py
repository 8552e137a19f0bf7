"""The words of a command line that connects over BLE, and the source they make. Imports bleak only when one is made."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING
from uuid import UUID

from telemetry.errors import UsageError

if TYPE_CHECKING:
    from telemetry.sources.ble import BleSource

PREFIX = "ble:"


def ble_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options for sources that begin with ``ble:``."""
    group = parser.add_argument_group(
        "Bluetooth Low Energy (a source 'ble:NAME' or 'ble:ADDRESS'; 'ble:' alone: the only robot)"
    )
    group.add_argument("--ble-service", metavar="UUID", help="the service that carries the lines (default: UART over BLE)")
    group.add_argument("--ble-notify", metavar="UUID", help="the characteristic that notifies them")
    group.add_argument("--ble-write", metavar="UUID", help="the characteristic that takes --ble-greeting")
    group.add_argument(
        "--ble-greeting", metavar="TEXT", help="a line to send at each connecting, to a robot that waits for it"
    )
    group.add_argument("--ble-timeout", type=float, default=8.0, metavar="S", help="how long to look for it (default: 8)")


def _uuid(text: str, option: str) -> str:
    """A UUID in full, in lower case; 16 bits in short form are one of the Bluetooth SIG's own."""
    try:
        if len(text) in {4, 6} and int(text, 16) <= 0xFFFF:
            # Bluetooth Core Specification, Vol 3, Part B, 2.5.1: short UUIDs stand on this base.
            return f"{int(text, 16):08x}-0000-1000-8000-00805f9b34fb"
        return str(UUID(text))
    except ValueError as error:
        todo = "Write it like 6e400001-b5a3-f393-e0a9-e50e24dcca9e or, in short, 180d"
        raise UsageError(f"'{text}' is no UUID", where=option, todo=todo) from error


def ble_source(address: str, args: argparse.Namespace) -> BleSource:
    """The source for ``address`` (it begins with ``ble:``), with the options of ``ble_arguments`` where given."""
    from telemetry.sources.ble import UART_NOTIFY, UART_SERVICE, UART_WRITE, BleSource, BleWish

    if not 0.0 < args.ble_timeout <= 120.0:
        raise UsageError("it is more than 0 and at most 120 seconds", where="--ble-timeout")
    wish = BleWish(
        wanted=address.removeprefix(PREFIX).strip(),
        service=_uuid(args.ble_service or UART_SERVICE, "--ble-service"),
        notify=_uuid(args.ble_notify or UART_NOTIFY, "--ble-notify"),
        write=_uuid(args.ble_write or UART_WRITE, "--ble-write"),
        greeting=args.ble_greeting,
        scan_timeout_s=args.ble_timeout,
    )
    return BleSource(wish)
