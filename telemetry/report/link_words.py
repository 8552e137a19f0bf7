"""How a radio link is doing, in words: for the command line and the window. Takes what a recording keeps of it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

STRONG_DBM, FAIR_DBM = -65, -80
"""Common practice, no source."""


def strength_words(rssi_dbm: int | None) -> str:
    """A signal strength in figures and a word."""
    if rssi_dbm is None:
        return "signal not told"
    word = "strong" if rssi_dbm >= STRONG_DBM else "fair" if rssi_dbm >= FAIR_DBM else "weak: go nearer"
    return f"{rssi_dbm} dBm ({word})"


def connected_words(link: Mapping[str, Any]) -> str:
    """What the connection is like; ``link``: a LinkHealth as plain values (sources/link_health.py)."""
    mtu = link.get("mtu_bytes")
    size = f", up to {mtu - 3} bytes a notification" if isinstance(mtu, int) else ""
    return f"connected over BLE: {strength_words(link.get('rssi_dbm'))}{size}"


def totals_words(link: Mapping[str, Any]) -> str:
    """What the link did from its opening on, for the end of a run."""
    drops = link.get("drops", 0)
    times = "no drop" if not drops else "1 drop" if drops == 1 else f"{drops} drops"
    away = f", {link.get('away_s', 0.0):.1f} s away" if drops else ""
    count = link.get("notifications", 0)
    return f"over BLE: {link.get('bytes', 0)} bytes in {count} notification{'s' * (count != 1)}, {times}{away}"
