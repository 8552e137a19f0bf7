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
class HeaderFault:
    """What is wrong with a column, what is done ``instead`` in a stream, and the ``units`` that there are."""

    what: str
    instead: str
    units: str = ""

    def __str__(self) -> str:
        """As one sentence about a stream."""
        return f"Header: {self.what}; {self.instead}." + (f" Known: {self.units}." if self.units else "")


@dataclass(frozen=True, slots=True)
class Header:
    """The columns in force, and what was wrong with them."""

    columns: tuple[StreamColumn, ...]
    faults: tuple[HeaderFault, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(column.name for column in self.columns)

    def first(self, kind: str) -> int | None:
        """Where the column of this kind stands, None where there is none."""
        return next((i for i, column in enumerate(self.columns) if column.kind == kind), None)


def parse_header(text: str) -> Header:
    """The columns named in ``text``: ``n,t/ms,colour,refl/%``. Raises StreamError where there is no ``t``."""
    columns: list[StreamColumn] = []
    faults: list[HeaderFault] = []
    taken: set[str] = set()
    for place, field in enumerate(text.split(","), start=1):
        column = _column(field.strip(), place, faults)
        if column.name in taken:
            name = f"{column.sent} {place}"
            faults.append(HeaderFault(f"{column.sent} is named twice", f"column {place} is kept as '{name}'"))
            kind = column.kind if column.kind == "colour" else "further"
            column = StreamColumn(name, kind, column.sent, column.unit)
        taken.add(column.name)
        columns.append(column)
    header = Header(tuple(columns), tuple(faults))
    if header.first("t") is None:
        raise StreamError("no t among the columns", where=f"#{text}"[:80], todo="The robot's clock is needed, e.g. t/ms.")
    return header


def named_columns(columns: str) -> Header:
    """The columns that the user names for lines without a header. Raises StreamError where anything is unclear in them."""
    try:
        header = parse_header(columns if "," in columns else columns.replace(";", ","))
    except StreamError as error:
        raise ColumnsError(error.what, where="--columns", todo=error.todo) from error
    if header.faults:
        # What a stream's header would be forgiven, whoever names the columns can put right.
        fault = header.faults[0]
        units = f" Units: {fault.units}." if fault.units else ""
        raise ColumnsError(fault.what, where="--columns", todo=f"Name each as quantity/unit.{units}")
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
    return Header(tuple(columns), header.faults)


def _column(field: str, place: int, faults: list[HeaderFault]) -> StreamColumn:
    sent, _, unit = (part.strip() for part in field.partition("/"))
    quantity, _, suffix = sent.partition(".")
    if sent == "n":
        return StreamColumn("n", "n", sent, unit)
    if quantity == "colour":
        return StreamColumn(sent, "colour", sent, unit)
    if quantity in _COUNTS:
        return StreamColumn(sent, "value", sent, unit)
    if quantity in UNITS and not (quantity == "t" and suffix):
        return _known(quantity, sent, unit, faults)
    if not sent:
        sent = f"column {place}"
    return StreamColumn(f"{sent}_sent" if sent in _OURS else sent, "further", sent, unit)


def _known(quantity: str, sent: str, unit: str, faults: list[HeaderFault]) -> StreamColumn:
    name, kind = ("t_us", "t") if quantity == "t" else (sent, "value")
    units = UNITS[quantity]
    if unit in units:
        return StreamColumn(name, kind, sent, unit, units[unit])
    assumed = _ASSUMED[quantity]
    known = ", ".join(one for one in units if one.isascii())
    if not unit or quantity == "t":
        fault = f"unknown unit '{unit}' of {sent}" if unit else f"{sent} has no unit"
        faults.append(HeaderFault(fault, f"it is taken as {assumed}", known))
        return StreamColumn(name, kind, sent, assumed, units[assumed])
    further = f"{sent}_{unit}".replace("%", "percent").replace("/", "_per_")
    if (quantity, unit) != ("battery", "%"):
        faults.append(HeaderFault(f"unknown unit '{unit}' of {sent}", f"it is kept as '{further}' as sent", known))
    return StreamColumn(further, "further", sent, unit)
