"""A robot over Bluetooth Low Energy as a source like any other: the event loop stays hidden behind it.

``scan`` says who is in range. A BleSource is made with a BleWish (or just a name or an address), and reads like a cable,
except that the link may drop and come back in one recording: ``read`` then raises a LinkChange in its place in the stream.
"""

from __future__ import annotations

import contextlib
import queue
from dataclasses import replace

from telemetry.errors import LinkError
from telemetry.sources.ble.errors import DROPPED
from telemetry.sources.ble.health import HealthMeter
from telemetry.sources.ble.link import BleLink, BleWish
from telemetry.sources.ble.loop import BackgroundLoop, shared_loop
from telemetry.sources.ble.options import RADIO_NOTE
from telemetry.sources.ble.scan import UART_NOTIFY, UART_SERVICE, UART_WRITE, BleDevice, scan
from telemetry.sources.link_health import LinkHealth
from telemetry.sources.source import EndOfStream

__all__ = [
    "RADIO_NOTE",
    "UART_NOTIFY",
    "UART_SERVICE",
    "UART_WRITE",
    "BleDevice",
    "BleSource",
    "BleWish",
    "LinkHealth",
    "scan",
    "with_device",
]


class BleSource:
    """One robot over BLE. Everything may be called from any thread; ``read`` from one at a time."""

    def __init__(self, wish: BleWish | str, loop: BackgroundLoop | None = None) -> None:
        self._wish = BleWish(wish) if isinstance(wish, str) else wish
        self._own_loop = loop
        self._loop: BackgroundLoop | None = None
        self._link: BleLink | None = None
        self._arrivals: queue.SimpleQueue[bytes | LinkError | EndOfStream] = queue.SimpleQueue()
        self._held: LinkError | EndOfStream | None = None
        self._meter = HealthMeter()
        self.device: BleDevice | None = None
        """What the robot said of itself, once ``open`` found it."""

    @property
    def where(self) -> str:
        """``ble:`` and the robot's name, or its address if it has none."""
        return self._wish.where if self.device is None else f"ble:{self.device.name or self.device.address}"

    def open(self) -> None:
        """Find the robot, connect, subscribe, send the greeting. LinkError with one sentence if that fails."""
        if self._link is not None:
            return
        loop = self._own_loop or shared_loop()
        self._held, self._arrivals = None, queue.SimpleQueue()
        link = BleLink(self._wish, self._arrivals.put, self._meter, loop.scan_lock)

        async def begin() -> BleDevice:
            found = await link.connect()
            link.keep()
            return found.about

        try:
            self.device = loop.run(begin())
        except BaseException:
            self._meter.became("closed")
            raise
        self._loop, self._link = loop, link

    def read(self, timeout_s: float) -> bytes:
        """What has arrived since the last call, at once if there is any; ``b""`` when nothing came within ``timeout_s``.

        Raises LinkChange when the link dropped or is back (go on reading), LinkError when lost, EndOfStream once closed.
        """
        parts: list[bytes] = []
        with contextlib.suppress(queue.Empty):
            while self._held is None:
                item = self._arrivals.get_nowait() if parts else self._arrivals.get(timeout=max(0.0, timeout_s))
                if isinstance(item, bytes):
                    parts.append(item)
                else:
                    self._held = item
        if parts or self._held is None:
            return b"".join(parts)
        news, self._held = self._held, None
        if self._link is None:  # closed: say so at every further call
            self._held = news
        raise news

    def send_line(self, text: str) -> None:
        """Send one line of text to the robot; LinkError if it does not take it within ``write_timeout_s``."""
        if self._loop is None or self._link is None:
            raise LinkError(DROPPED[0], where=self.where, todo=DROPPED[1])
        self._loop.run(self._link.send_line(text))

    def health(self) -> LinkHealth:
        """How the link is doing now."""
        return self._meter.look()

    def close(self) -> None:
        """Say goodbye to the robot; a ``read`` that is waiting ends with EndOfStream. May be called twice."""
        link, loop = self._link, self._loop
        self._link = self._loop = None
        if link is not None and loop is not None:
            loop.run(link.close())
        self._arrivals.put(EndOfStream())


def with_device(wish: BleWish, device: BleDevice) -> BleWish:
    """The same wish for a device out of a scan: by its address, which no other device shares."""
    return replace(wish, wanted=device.address)
