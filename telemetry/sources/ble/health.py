"""How well a BLE link is doing, counted where the bytes arrive."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

from telemetry.sources.link_health import LinkHealth, State


class HealthMeter:
    """Counts on the loop's thread, is read from any other. ``clock``: monotonic seconds."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._lock = threading.Lock()
        self._state: State = "closed"
        self._notifications = self._bytes = self._drops = self._reconnects = 0
        self._away_s = 0.0
        self._second = 0
        self._now_counts = self._last_counts = (0, 0)
        self._last_data_s = clock()
        self._rssi_dbm: int | None = None
        self._mtu_bytes: int | None = None

    def _turn(self) -> None:
        second = int(self._clock())
        if second != self._second:
            self._last_counts = self._now_counts if second == self._second + 1 else (0, 0)
            self._now_counts, self._second = (0, 0), second

    def arrived(self, size: int) -> None:
        """One notification of ``size`` bytes came."""
        with self._lock:
            self._turn()
            self._notifications += 1
            self._bytes += size
            self._now_counts = (self._now_counts[0] + 1, self._now_counts[1] + size)
            self._last_data_s = self._clock()
            if self._state == "silent":
                self._state = "connected"

    def became(self, state: State) -> None:
        """The link's state changed."""
        with self._lock:
            self._state = state

    def connected(self, mtu_bytes: int | None, rssi_dbm: int | None) -> None:
        """A connection stands; what is not known of it leaves the value before."""
        with self._lock:
            self._state, self._last_data_s = "connected", self._clock()
            self._mtu_bytes = mtu_bytes if mtu_bytes is not None else self._mtu_bytes
            self._rssi_dbm = rssi_dbm if rssi_dbm is not None else self._rssi_dbm

    def dropped(self) -> None:
        """The link dropped."""
        with self._lock:
            self._drops += 1
            self._state = "reconnecting"

    def back(self, away_s: float) -> None:
        """The link is there again."""
        with self._lock:
            self._reconnects += 1
            self._away_s += away_s

    def look(self) -> LinkHealth:
        """The figures now."""
        with self._lock:
            self._turn()
            notifications, size = self._last_counts
            return LinkHealth(
                state=self._state,
                notifications=self._notifications,
                bytes=self._bytes,
                notifications_per_s=float(notifications),
                bytes_per_s=float(size),
                drops=self._drops,
                reconnects=self._reconnects,
                away_s=self._away_s,
                silent_s=self._clock() - self._last_data_s,
                rssi_dbm=self._rssi_dbm,
                mtu_bytes=self._mtu_bytes,
            )
