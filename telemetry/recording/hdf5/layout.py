"""What a recording's file looks like: names, units and encodings; LAYOUT.md says the same to people."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from telemetry.recording.channels import base, is_int
from telemetry.sample import QUANTITIES

VERSION: Final = 3
"""Layout version of what this writes; a higher one is refused, a lower one is read."""
CONVENTIONS: Final = "CF-1.11"
BLOCK: Final = 16_384
"""Samples in a chunk of a long recording; a shorter recording is one chunk a column."""
RAW_BLOCK: Final = 262_144
READ_BLOCK: Final = 3 * 32_768
IN_ATTRIBUTE: Final = 8_192
"""Bytes of events, packed reads or packed stream that still are an attribute of the file; more are kept apart."""
FILL: Final = -(1 << 31)
"""Stands for a missing value in a column of whole numbers."""
TIME_UNITS: Final = "microseconds since 1970-01-01 00:00:00"

DATASETS: Final = {"t_us": "robot_time", "arrival_us": "time"}
LONG_NAMES: Final = {
    "t_us": "robot's clock, wraps taken out",
    "arrival_us": "arrival of the line at the computer",
    "n": "running number of the line, wraps taken out",
    "boot": "restarts of the robot so far",
    "colour": "colour as the sensor itself names it",
    "refl": "reflected light",
    "red": "raw reflected red",
    "green": "raw reflected green",
    "blue": "raw reflected blue",
    "heading": "heading",
    "dist": "distance driven",
    "speed": "speed",
    "battery": "battery",
    "loop": "loop period of the robot's program",
}
RESERVED: Final = frozenset(
    {"sample", "read_number", "byte", "event_character", "raw", "raw_xz", "events", "reads", *DATASETS.values()}
)


@dataclass(frozen=True, slots=True)
class Encoding:
    """How one column lies in the file.

    ``kind``: ``int`` as it is, ``milli`` its thousandth, ``whole`` int32 with FILL for NaN, ``float``.
    """

    channel: str
    dataset: str
    kind: str

    @property
    def dtype(self) -> np.dtype[np.generic]:
        """The type in the file."""
        if self.kind == "float":
            return np.dtype("<f8")
        if self.kind == "whole":
            return np.dtype("<i4")
        return np.dtype({"colour": "<i2", "n": "<i8", "boot": "<i4"}.get(base(self.channel), "<i8"))


def missing(channel: str) -> float:
    """What stands for a value that was not sent, in a Table."""
    return -1 if is_int(channel) else np.nan


def table_dtype(channel: str) -> np.dtype[np.generic]:
    """The type in a Table."""
    if base(channel) == "colour":
        return np.dtype(np.int16)
    return np.dtype(np.int64) if is_int(channel) else np.dtype(np.float64)


def dataset_name(channel: str, taken: set[str]) -> str:
    """A name of letters, digits and underscores, as CF 2.3 asks, that nobody else in the file has."""
    name = DATASETS.get(channel) or re.sub(r"[^A-Za-z0-9_]", "_", channel) or "channel"
    if not name[0].isalpha():
        name = f"channel_{name}"
    if channel not in DATASETS and name in RESERVED:
        name = f"channel_{name}"
    plain, number = name, 2
    while name in taken:
        name, number = f"{plain}_{number}", number + 1
    return name


def unit(channel: str, units: dict[str, str]) -> str:
    """The unit of a column, as CF spells it."""
    own = QUANTITIES.get(base(channel)) or units.get(channel, "")
    return re.sub(r"\bdeg\b", "degree", own)  # the only one of ours that UDUNITS, which CF asks for, spells otherwise


def encoded(channel: str, values: NDArray[np.generic]) -> tuple[str, NDArray[np.generic]]:
    """(kind, values in the file's numbers): the smallest form that loses nothing."""
    if channel == "t_us":
        milli = values // 1000
        return ("milli", milli) if np.array_equal(milli * 1000, values) else ("int", values)
    if is_int(channel):
        return "int", values
    small = packed(values)
    return ("float", values) if small is None else ("whole", small)


def packed(values: NDArray[np.generic]) -> NDArray[np.int32] | None:
    """Floats as whole numbers with FILL for NaN, where that loses nothing; else None."""
    known = np.isfinite(values)
    with np.errstate(invalid="ignore"):
        small = np.where(known, values, 0.0)
        if not np.all(np.abs(small) < -FILL):
            return None
        whole = small.astype(np.int32)
    if not np.array_equal(whole, small) or np.any(np.signbit(small) & (whole == 0)) or np.any(np.isinf(values)):
        return None
    whole[~known] = FILL
    return whole


def unpacked(channel: str, kind: str, stored: NDArray[np.generic]) -> NDArray[np.generic]:
    """From the file's type to the Table's."""
    if kind == "whole":
        out = stored.astype(np.float64)
        out[stored == FILL] = np.nan
        return out
    if kind == "milli":
        return stored.astype(np.int64) * 1000
    return stored.astype(table_dtype(channel), copy=False)
