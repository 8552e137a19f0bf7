"""What the name of a channel tells of its column."""

from __future__ import annotations


def base(channel: str) -> str:
    """The quantity without its sensor."""
    return channel.split(".", 1)[0]


def is_int(channel: str) -> bool:
    """Whether the column is of whole numbers in a Table too."""
    return channel in {"t_us", "arrival_us", "n", "boot"} or base(channel) == "colour"
