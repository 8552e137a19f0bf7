"""Where every byte of the stream went."""

from __future__ import annotations

from dataclasses import dataclass, field

KINDS = ("data", "header", "note", "console", "rejected")


@dataclass
class Tally:
    """Bytes and lines by kind. ``bytes_in`` is the sum of ``line_ends``, of all in ``bytes_of`` and of ``waiting``."""

    bytes_in: int = 0
    line_ends: int = 0
    waiting: int = 0
    """Bytes of a line whose end has not come yet."""
    bytes_of: dict[str, int] = field(default_factory=lambda: dict.fromkeys(KINDS, 0))
    lines_of: dict[str, int] = field(default_factory=lambda: dict.fromkeys(KINDS, 0))

    def add(self, kind: str, count: int, lines: int = 1) -> None:
        self.bytes_of[kind] += count
        self.lines_of[kind] += lines
