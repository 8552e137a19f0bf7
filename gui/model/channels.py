"""What the channels of a run are: which sensors sent them, and what their colour indices mean."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

PALETTE = "palette"
"""Channels ``palette`` and ``palette.NAME`` hold what the palette makes of the raw channels."""


@dataclass(frozen=True, slots=True)
class Names:
    """What the colour indices mean: of the stream's ``colour`` channels, and of the ``palette`` channels."""

    stream: tuple[str, ...]
    palette: tuple[str, ...]


def sensors_in(channels: Iterable[str]) -> list[str]:
    """The suffixes of the sensors that send a colour, a reflectance or raw channels; '' for the one without."""
    found = dict.fromkeys(
        name.partition(".")[2] for name in channels if name.partition(".")[0] in ("colour", "refl", "red", "green", "blue")
    )
    return list(found)
