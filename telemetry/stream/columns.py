"""The header of the stream: which columns follow, and how each becomes a channel in its one fixed unit."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from telemetry.errors import ColumnsError, StreamError

Scale = tuple[float, float]
"""Multiply by the first, divide by the second: mm to cm is (1, 10), which gives the nearest float where 0.1 would not."""

UNITS: Final[Mapping[str, Mapping[str, Scale]]] = {
    "t": {"us": (1, 1), "µs": (1, 1), "μs": (1, 1), "ms": (1000, 1), "s": (1_000_000, 1)},
    "loop": {"ms": (1, 1), "us": (1, 1000), "µs": (1, 1000), "μs": (1, 1000), "s": (1000, 1)},
    "refl": {"%": (1, 1), "1": (100, 1)},
    "dist": {"cm": (1, 1), "mm": (1, 10), "m": (100, 1)},
    "speed": {"cm/s": (1, 1), "mm/s": (1, 10), "m/s": (100, 1)},
    "heading": {"deg": (1, 1), "°": (1, 1), "rad": (180, math.pi)},
    "battery": {"V": (1, 1), "mV": (1, 1000)},
}
"""Quantity -> the units it may come in -> the scale to the unit it is kept in (``sample.QUANTITIES``)."""

_ASSUMED: Final = {"t": "ms", "loop": "ms", "refl": "%", "dist": "cm", "speed": "cm/s", "heading": "deg", "battery": "V"}
_COUNTS: Final = frozenset({"red", "green", "blue"})
_OURS: Final = frozenset({"t_us", "n", "arrival_us", "boot"})


@dataclass(frozen=True, slots=True)
class StreamColumn:
    """One column of the lines. ``kind``: 't', 'n', 'colour', 'value', or 'further' (no known quantity).

    ``name`` is the channel it becomes, ``sent`` the robot's name for it without the unit, ``unit`` the robot's unit.
    """

    name: str
    kind: str
    sent: str
    unit: str
    scale: Scale = (1, 1)


@dataclass(frozen=True, slots=True)
class Header:
    """The columns in force. ``remarks``: what was wrong with them, one sentence each."""

    columns: tuple[StreamColumn, ...]
    remarks: tuple[str, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(column.name for column in self.columns)

    def first(self, kind: str) -> int | None:
        """Where the column of this kind stands, None where there is none."""
        return next((i for i, column in enumerate(self.columns) if column.kind == kind), None)


def parse_header(text: str) -> Header:
    """The columns named in ``text``: ``n,t/ms,colour,refl/%``. Raises StreamError where there is no ``t``."""
    columns: list[StreamColumn] = []
    remarks: list[str] = []
    taken: set[str] = set()
    for place, field in enumerate(text.split(","), start=1):
        column = _column(field.strip(), place, remarks)
        if column.name in taken:
            name = f"{column.sent} {place}"
            remarks.append(f"The header names {column.sent} twice; column {place} is kept as '{name}'.")
            kind = column.kind if column.kind == "colour" else "further"
            column = StreamColumn(name, kind, column.sent, column.unit)
        taken.add(column.name)
        columns.append(column)
    header = Header(tuple(columns), tuple(remarks))
    if header.first("t") is None:
        raise StreamError("no t among the columns", where=f"#{text}"[:80], todo="The robot's clock is needed, e.g. t/ms.")
    return header


def named_columns(columns: str) -> Header:
    """The columns that the user names for lines without a header. Raises StreamError where anything is unclear in them."""
    try:
        header = parse_header(columns)
    except StreamError as error:
        raise ColumnsError(error.what, where="--columns", todo=error.todo) from error
    if header.remarks:
        # What a stream's header would be forgiven, whoever names the columns can put right.
        fault, _, rest = header.remarks[0].removeprefix("Header: ").partition("; it is ")
        _, _, known = rest.partition("Known: ")
        units = f" Units: {known}" if known else ""
        raise ColumnsError(fault.removesuffix("."), where="--columns", todo=f"Name each as quantity/unit.{units}")
    return header


MOST_CHANNELS: Final = 128
"""Different channels in one stream; every sample has a place in memory for each."""


def bounded(header: Header, known: set[str]) -> Header:
    """``header``, its channels added to ``known``; from MOST_CHANNELS on new ones go by their place among the columns."""
    columns = []
    for place, column in enumerate(header.columns, start=1):
        if column.kind in {"t", "n"} or column.name in known or len(known) < MOST_CHANNELS:
            known.add(column.name)
            columns.append(column)
        else:
            name = f"column {place}"
            known.add(name)
            columns.append(StreamColumn(name, "further", name, ""))
    return Header(tuple(columns), header.remarks)


def _column(field: str, place: int, remarks: list[str]) -> StreamColumn:
    sent, _, unit = (part.strip() for part in field.partition("/"))
    quantity, _, suffix = sent.partition(".")
    if sent == "n":
        return StreamColumn("n", "n", sent, unit)
    if quantity == "colour":
        return StreamColumn(sent, "colour", sent, unit)
    if quantity in _COUNTS:
        return StreamColumn(sent, "value", sent, unit)
    if quantity in UNITS and not (quantity == "t" and suffix):
        return _known(quantity, sent, unit, remarks)
    if not sent:
        sent = f"column {place}"
    return StreamColumn(f"{sent}_sent" if sent in _OURS else sent, "further", sent, unit)


def _known(quantity: str, sent: str, unit: str, remarks: list[str]) -> StreamColumn:
    name, kind = ("t_us", "t") if quantity == "t" else (sent, "value")
    units = UNITS[quantity]
    if unit in units:
        return StreamColumn(name, kind, sent, unit, units[unit])
    assumed = _ASSUMED[quantity]
    known = ", ".join(one for one in units if one.isascii())
    if not unit or quantity == "t":
        fault = f"unknown unit '{unit}' of {sent}" if unit else f"{sent} has no unit"
        remarks.append(f"Header: {fault}; it is taken as {assumed}. Known: {known}.")
        return StreamColumn(name, kind, sent, assumed, units[assumed])
    further = f"{sent}_{unit}".replace("%", "percent").replace("/", "_per_")
    if (quantity, unit) != ("battery", "%"):
        remarks.append(f"Header: unknown unit '{unit}' of {sent}; it is kept as '{further}' as sent. Known: {known}.")
    return StreamColumn(further, "further", sent, unit)
