"""How well a link is doing, as a source that knows it tells it. Imports nothing: watchers use it too."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any, Literal, Protocol, runtime_checkable

State = Literal["closed", "connecting", "connected", "silent", "reconnecting", "lost"]


@dataclass(frozen=True, slots=True)
class LinkHealth:
    """One look at a radio link. Rates are those of the last whole second; totals count from ``open``.

    ``rssi_dbm`` is from when the device was last heard announcing itself: systems do not tell it of a connected device.
    ``mtu_bytes`` is the negotiated ATT MTU, of which a notification carries three less. ``silent_s``: how long nothing came.
    """

    state: State
    notifications: int
    bytes: int
    notifications_per_s: float
    bytes_per_s: float
    drops: int
    reconnects: int
    away_s: float
    silent_s: float
    rssi_dbm: int | None
    mtu_bytes: int | None

    @property
    def payload_bytes(self) -> int | None:
        """What one notification carries at the most."""
        return None if self.mtu_bytes is None else self.mtu_bytes - 3

    def to_dict(self) -> dict[str, Any]:
        """Plain values for JSON, under the same names; what is not known is left out."""
        plain = {name: round(value, 3) if isinstance(value, float) else value for name, value in asdict(self).items()}
        return {name: value for name, value in plain.items() if value is not None}


@dataclass(frozen=True, slots=True)
class SerialHealth:
    """One look at a serial line, from ``open`` on.

    ``overruns``: bytes (at least so many) that reached this computer and were lost in it for want of room; ``damaged``:
    bytes that came with a wrong frame or parity. Both by the system's driver.
    """

    overruns: int
    damaged: int

    def to_dict(self) -> dict[str, Any]:
        """Plain values for JSON, under the same names."""
        return asdict(self)


@runtime_checkable
class TellsHealth(Protocol):
    """A source that knows how its link is doing. A capture notes it once a second."""

    def health(self) -> LinkHealth | SerialHealth | None:
        """How it is doing now; None where nothing is known (yet)."""
