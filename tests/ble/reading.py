"""Reading a source in tests: until a condition holds, never for a time."""

from __future__ import annotations

import time
from collections.abc import Callable

from telemetry.sources.ble.source import BleSource
from telemetry.sources.link_change import LinkChange

PATIENCE_S = 20.0


def read_bytes(source: BleSource, size: int) -> bytes:
    """Read until ``size`` bytes came; fails when nothing more comes."""
    data = bytearray()
    while len(data) < size:
        more = source.read(PATIENCE_S)
        assert more, f"only {len(data)} of {size} bytes came"
        data += more
    return bytes(data)


def next_change(source: BleSource, within_s: float = PATIENCE_S) -> tuple[LinkChange, float]:
    """The next LinkChange and the seconds until it came; fails on bytes before it."""
    start = time.monotonic()
    while time.monotonic() - start < within_s:
        try:
            data = source.read(within_s)
        except LinkChange as change:
            return change, time.monotonic() - start
        assert data == b""
    raise AssertionError("the link did not change")


def wait_until(holds: Callable[[], bool], what: str) -> None:
    """Poll a condition of another thread."""
    end = time.monotonic() + PATIENCE_S
    while not holds():
        assert time.monotonic() < end, what
        time.sleep(0.002)


def cut(data: bytes, size: int) -> list[bytes]:
    """Notifications of ``size`` bytes, the last one shorter."""
    return [data[at : at + size] for at in range(0, len(data), size)]


def lines(count: int) -> list[bytes]:
    """So many lines of the stream, about 41 bytes each."""
    return [f"{n},{n * 10},rust,54,812,233,190,{n % 360 - 180}.4,{n / 10:.1f}\n".encode() for n in range(count)]
