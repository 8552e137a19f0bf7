"""How a link is doing, in words: for the command line and the window. Takes what a recording keeps of it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from telemetry.stream.budget import ble_budget, serial_budget
from telemetry.wording import sentence

STRONG_DBM, FAIR_DBM = -65, -80
"""Common practice, no source."""


def strength_words(rssi_dbm: int | None) -> str:
    """A signal strength in figures and a word."""
    if rssi_dbm is None:
        return "signal not told"
    word = "strong" if rssi_dbm >= STRONG_DBM else "fair" if rssi_dbm >= FAIR_DBM else "weak: go nearer"
    return f"{rssi_dbm} dBm ({word})"


def is_serial(link: Mapping[str, Any]) -> bool:
    """Whether ``link`` is a SerialHealth as plain values."""
    return "overruns" in link


def loss_words(link: Mapping[str, Any]) -> str:
    """What a serial line lost inside this computer, and what came damaged; empty where nothing is known or all is well."""
    lost, damaged = int(link.get("overruns", 0)), int(link.get("damaged", 0))
    said = [f"at least {lost} byte{'s' * (lost != 1)} were lost inside this computer, which was too busy to take them"]
    said = said * bool(lost)
    said += [f"{damaged} byte{'s' * (damaged != 1)} came damaged over the line: check cable and baud rate"] * bool(damaged)
    return "; ".join(said)


def connected_words(link: Mapping[str, Any]) -> str:
    """What the connection is like; ``link``: a LinkHealth or SerialHealth as plain values (sources/link_health.py)."""
    if is_serial(link):
        return "connected over a serial line: what this computer loses of it is counted"
    mtu = link.get("mtu_bytes")
    size = f", up to {mtu - 3} bytes a notification" if isinstance(mtu, int) else ""
    return f"connected over BLE: {strength_words(link.get('rssi_dbm'))}{size}"


def totals_words(link: Mapping[str, Any]) -> str:
    """What the link did from its opening on, for the end of a run."""
    if is_serial(link):
        return "over a serial line: " + (loss_words(link) or "nothing was lost inside this computer")
    drops = link.get("drops", 0)
    times = "no drop" if not drops else "1 drop" if drops == 1 else f"{drops} drops"
    away = f", {link.get('away_s', 0.0):.1f} s away" if drops else ""
    count = link.get("notifications", 0)
    return f"over BLE: {link.get('bytes', 0)} bytes in {count} notification{'s' * (count != 1)}, {times}{away}"


GUESSED_INTERVAL_MS = 30.0
"""No system tells the connection interval; this one is common (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class LineFlow:
    """What a robot sends: ``line_bytes`` with the line's end, ``lines_per_s`` with those lost, and whether any was."""

    line_bytes: float
    lines_per_s: float
    lost: bool

    @classmethod
    def of(cls, samples: int, lost: int, size: int, seconds: float) -> LineFlow | None:
        """From the counts of a run so far: samples that came, samples lost, bytes, time. None: they tell too little."""
        if samples < 2 or seconds <= 0.0:
            return None
        return cls(size / samples, (samples + lost) / seconds, lost > 0)


def ble_budget_words(link: Mapping[str, Any], flow: LineFlow) -> str:
    """What the negotiated size and the robot's lines make of the link; empty while the size is not known.

    No system tells how often the link may send. So a guess is made, and raised to what was seen to arrive.
    """
    mtu = link.get("mtu_bytes")
    if not isinstance(mtu, int):
        return ""
    seen = float(link.get("notifications_per_s", 0.0)) * GUESSED_INTERVAL_MS / 1000.0
    per_interval = max(1, math.ceil(seen - 1e-9))
    budget = ble_budget(
        flow.line_bytes, flow.lines_per_s, mtu, interval_ms=GUESSED_INTERVAL_MS, per_interval=per_interval
    )  # fmt: skip
    if budget.warning is not None and flow.lost:
        return sentence(budget.warning)
    each = "1 notification" if per_interval == 1 else f"{per_interval} notifications"
    return (
        f"link budget: {flow.lines_per_s:.0f} lines/s of {flow.line_bytes:.0f} bytes take {100 * budget.share:.0f} % "
        f"of {each} of {mtu - 3} bytes every {GUESSED_INTERVAL_MS:g} ms (how often is a guess, at least what was seen)"
    )


_NO_BAUD = ("://", "robot:", "/dev/pts/", "ttyACM", "usbmodem")
"""Ports without a real serial line behind them: their baud rate says nothing."""


def budget_words(source: str, baud: int | None, link: Mapping[str, Any], flow: LineFlow) -> str:
    """What to say of the link that ``source`` names: over BLE how full it is, on a serial line what is wrong."""
    if is_serial(link) and loss_words(link):
        return loss_words(link)
    if link and not is_serial(link):
        return ble_budget_words(link, flow)
    if not baud or any(part in source for part in _NO_BAUD):
        return ""
    return serial_budget_words(baud, flow)


def serial_budget_words(baud: int, flow: LineFlow) -> str:
    """A warning where the lines hardly fit the baud rate, else empty.

    More than fits, and nothing lost: then it is no real serial line (many boards' USB ports take any baud rate).
    """
    budget = serial_budget(flow.line_bytes, flow.lines_per_s, baud)
    return sentence(budget.warning) if budget.warning is not None and (budget.share <= 1.0 or flow.lost) else ""
