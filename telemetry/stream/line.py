"""The lines of the stream, one at a time: how each kind is written, its checksum, and the fixed form of a ``read`` note.

The pure counterpart of the decoder: what the built-in robot prints and what tests feed. Every function gives one line as
bytes with its LF.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from typing import Final, NamedTuple

from telemetry.errors import StreamError

LINE_MAX: Final = 240
"""Bytes a line may have, its end not counted."""

_ENDS_LIKE_CHECKSUM = re.compile(rb"\*[0-9A-Fa-f]{2}$")


class ReadNote(NamedTuple):
    """What the robot's own program took as the reading of a slot."""

    slot: str
    colour: str


def checksum(body: bytes) -> int:
    """The XOR of all bytes: the checksum of NMEA 0183, without its ``$``."""
    # Folding one large integer in halves is several times faster than a loop over the bytes.
    value = int.from_bytes(body, "little")
    bits = 8 << max(len(body) - 1, 0).bit_length()
    while bits > 8:
        bits >>= 1
        value = (value >> bits) ^ (value & ((1 << bits) - 1))
    return value


def finished(body: str, *, check: bool = True) -> bytes:
    """``body`` as a line with its end, and ``*HH`` before that where ``check``. Raises StreamError for what is no line."""
    raw = body.encode()
    if b"\n" in raw or b"\r" in raw or b"\0" in raw:
        raise StreamError("a line cannot hold a line end or a NUL byte", where=repr(body[:40]))
    if check or _ENDS_LIKE_CHECKSUM.search(raw):
        raw += b"*%02X" % checksum(raw)
    if len(raw) > LINE_MAX:
        what = f"the line has {len(raw)} bytes, {LINE_MAX} are allowed"
        raise StreamError(what, where=repr(body[:40]), todo="Send fewer columns.")
    return raw + b"\n"


def header_line(columns: Sequence[str], *, check: bool = True) -> bytes:
    """``#n,t/ms,colour``: the columns that follow, each ``quantity/unit``."""
    return finished("#" + ",".join(map(_field, columns)), check=check)


def codes_line(codes: Mapping[int, str], *, check: bool = True) -> bytes:
    """``#codes,9=none,1=rust``: what whole-number colour codes mean."""
    return finished("#codes," + ",".join(f"{code}={_field(name)}" for code, name in codes.items()), check=check)


def range_line(ranges: Mapping[str, tuple[float, float]], *, check: bool = True) -> bytes:
    """``#range,red=4..1023``: black level and full scale of a channel, in the header's units."""
    pairs = (f"{_field(name)}={number(low)}..{number(high)}" for name, (low, high) in ranges.items())
    return finished("#range," + ",".join(pairs), check=check)


def wrap_line(wraps: Mapping[str, int], *, check: bool = True) -> bytes:
    """``#wrap,t=1073741824``: the count at which a counter starts again from 0."""
    return finished("#wrap," + ",".join(f"{_field(name)}={count}" for name, count in wraps.items()), check=check)


def data_line(values: Sequence[str | float | None], *, check: bool = True) -> bytes:
    """One sample in the header's order; None and NaN become an empty field. Floats are written with up to 4 decimals."""
    fields = ("" if value is None else _field(value) if isinstance(value, str) else number(value) for value in values)
    return finished(",".join(fields), check=check)


def note_line(t: float, text: str, *, check: bool = True) -> bytes:
    """``!1500,gate open``: a note at a robot time, in the header's unit of ``t``."""
    return finished(f"!{number(t)},{text}", check=check)


def read_note_line(t: float, slot: str, colour: str, *, check: bool = True) -> bytes:
    """``!1620,read,crate 2,rust``: what the robot's own program took as the reading of a slot."""
    return note_line(t, f"read,{slot},{_field(colour)}", check=check)


def read_note(text: str) -> ReadNote | None:
    """Slot and colour of a note ``read,SLOT,COLOUR``; None for any other note. A slot's name may hold commas."""
    kind, _, rest = text.partition(",")
    slot, comma, colour = rest.rpartition(",")
    slot, colour = slot.strip(), colour.strip()
    if kind.strip() != "read" or not comma or not slot or not colour:
        return None
    return ReadNote(slot, colour)


def number(value: float, decimals: int = 4) -> str:
    """``value`` in the shortest plain form with at most ``decimals`` decimals; empty for NaN and infinity."""
    if isinstance(value, int):
        return str(value)
    if not math.isfinite(value):
        return ""
    text = f"{value:.{decimals}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def _field(text: str) -> str:
    if "," in text:
        raise StreamError("a field cannot hold a comma", where=repr(text[:40]))
    return text
