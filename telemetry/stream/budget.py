"""Whether lines per second times bytes fit the link, before they are lost on it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from telemetry.findings import Finding, FindingKind, Value

BITS_PER_BYTE: Final = 10
"""On a serial line with 8 data bits, no parity and one stop bit: a start bit and a stop bit frame them."""

ATT_HEADER: Final = 3
"""A notification carries the ATT MTU less its opcode and handle (Bluetooth Core Specification, Vol 3, Part F and G)."""

NEARLY_FULL: Final = 0.8


@dataclass(frozen=True, slots=True)
class Budget:
    """``share`` of the link that the stream takes, 1: full. ``line_ms``: how long one line is on its way at the least.

    ``most_lines_per_s``: what would just fit. ``warning``: None where there is room.
    """

    bytes_per_s: float
    capacity_bytes_per_s: float
    share: float
    line_ms: float
    most_lines_per_s: float
    warning: Finding | None


def serial_budget(line_bytes: float, lines_per_s: float, baud: int) -> Budget:
    """A serial line. ``line_bytes`` with the line's end: 1 for LF, 2 for CRLF."""
    capacity = baud / BITS_PER_BYTE
    return _budget((line_bytes, lines_per_s), capacity, 1000 * line_bytes / capacity, "serial", {"baud": baud})


def ble_budget(
    line_bytes: float, lines_per_s: float, att_mtu: int = 23, *, interval_ms: float = 30.0, per_interval: int = 1
) -> Budget:
    """Notifications over BLE: ``per_interval`` of them in each connection interval (the defaults are a careful guess)."""
    payload = att_mtu - ATT_HEADER
    capacity = payload * per_interval * 1000 / interval_ms
    line_ms = math.ceil(line_bytes / payload / per_interval) * interval_ms
    link = {"interval_ms": interval_ms, "per_interval": per_interval, "payload_bytes": payload}
    return _budget((line_bytes, lines_per_s), capacity, line_ms, "ble", link)


def _budget(stream: tuple[float, float], capacity: float, line_ms: float, cause: str, link: Mapping[str, Value]) -> Budget:
    line_bytes, lines_per_s = stream
    needed = line_bytes * lines_per_s
    most = capacity / line_bytes
    share = needed / capacity
    numbers: dict[str, Value] = {
        "lines_per_s": lines_per_s, "line_bytes": line_bytes, "share": share, "capacity_bytes_per_s": capacity,
        "most_lines_per_s": math.floor(NEARLY_FULL * most), **link,
    }  # fmt: skip
    warning = Finding(FindingKind.LINK_NARROW, "", cause, numbers) if share > NEARLY_FULL else None
    return Budget(needed, capacity, share, line_ms, most, warning)
