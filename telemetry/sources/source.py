"""What every source of a line stream offers, and how it says that there is no more."""

from __future__ import annotations

from typing import Protocol


class EndOfStream(Exception):  # noqa: N818 - an ending, not an error
    """The source is finished: a file was read to its end, a robot closed its stream in good order."""


class Source(Protocol):
    """Where bytes come from. Construct, ``open()``, ``read`` until EndOfStream, ``close()``."""

    @property
    def where(self) -> str:
        """What the user would call it: a port's name, an address, a file. For messages and for the recording."""

    def open(self) -> None:
        """Make it ready. Raises LinkError (StreamError for a file) with what to do about it."""

    def read(self, timeout_s: float) -> bytes:
        """What has arrived, at once if there is any; ``b""`` when nothing came within ``timeout_s`` (monotonic).

        Raises EndOfStream when finished, LinkError when broken. A source that comes back by itself after a drop raises
        LinkChange (sources/link_change.py) where the gap begins and where it ends: mark it and read on.
        """

    def close(self) -> None:
        """Let go of it. May be called twice, and without ``open``."""
