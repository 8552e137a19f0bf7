"""The words of a command line that connects over BLE. Imports no bleak."""

from __future__ import annotations

import argparse
from textwrap import fill
from typing import Any
from uuid import UUID

from telemetry.errors import UsageError

PREFIX = "ble:"
LONGEST_S = 120.0
RADIO_NOTE = (
    "Many events forbid radio on the robot during a run: use Bluetooth for practice, switch it off before a scored run, "
    "and read your event's rules."
)
"""To be shown wherever one connects by radio."""


def ble_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options for sources that begin with ``ble:``."""
    what = "ble:NAME or ble:ADDRESS, as 'sidelong ports' lists them; 'ble:' alone takes the only robot in range."
    text = "\n".join(fill(part, 98, initial_indent="  ", subsequent_indent="  ").lstrip() for part in (what, RADIO_NOTE))
    group = parser.add_argument_group("Bluetooth Low Energy", text)
    group.add_argument("--ble-service", metavar="UUID", help="the service that carries the lines (default: UART over BLE)")
    group.add_argument("--ble-notify", metavar="UUID", help="its characteristic that notifies them")
    group.add_argument("--ble-write", metavar="UUID", help="its characteristic that takes --ble-greeting")
    group.add_argument(
        "--ble-greeting", metavar="TEXT", help="a line to send at each connecting, to a robot that waits for it"
    )
    group.add_argument("--ble-timeout", type=float, metavar="S", help="how long to look for the robot (default: 8)")


def ble_options(args: argparse.Namespace) -> dict[str, Any]:
    """What ``open_source`` is to be told of them. Raises UsageError."""
    options = {
        name: _uuid(getattr(args, f"ble_{name}"), f"--ble-{name}")
        for name in ("service", "notify", "write")
        if getattr(args, f"ble_{name}") is not None
    }
    if args.ble_greeting is not None:
        options["greeting"] = args.ble_greeting
    if args.ble_timeout is None:
        return options
    if not 0.0 < args.ble_timeout <= LONGEST_S:
        raise UsageError(f"--ble-timeout must be more than 0 and at most {LONGEST_S:.0f} seconds")
    return options | {"scan_timeout_s": args.ble_timeout}


def _uuid(text: str, option: str) -> str:
    """A UUID in full, in lower case; one of 16 bits is one of the Bluetooth SIG's own."""
    try:
        if len(text) == 4 or text[:2].lower() == "0x":
            # Bluetooth Core Specification, Vol 3, Part B, 2.5.1: short UUIDs stand on this base.
            return str(UUID(f"{int(text, 16):08x}-0000-1000-8000-00805f9b34fb"))
        return str(UUID(text))
    except ValueError as error:
        todo = "Write it like 6e400001-b5a3-f393-e0a9-e50e24dcca9e or, in short, 180d"
        raise UsageError(f"'{text}' is not a UUID", where=option, todo=todo) from error
