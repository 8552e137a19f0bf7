"""From the fields of a line to a sample, under the header in force."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from difflib import get_close_matches
from itertools import pairwise
from math import isnan
from typing import Final

import numpy as np

from telemetry.sample import Columns
from telemetry.stream import block
from telemetry.stream.colours import Colours
from telemetry.stream.columns import Header, bounded
from telemetry.stream.counters import WHOLE_MAX, Counters
from telemetry.stream.numbers import NAN, parse_further, parse_number
from telemetry.stream.rows import Rows, no_samples

_FEW: Final = 8
"""So many lines are sooner taken one by one than as arrays."""


class Sampler:
    """Gathers samples. ``row``: how many there were in the whole stream; ``rows``: gathered and not yet taken.

    ``t_scale``: us in one unit of the robot's time.
    """

    def __init__(self, colours: Colours, counters: Counters, say: Callable[[str, str], None]) -> None:
        self.header: Header | None = None
        self._known: set[str] = set()
        self.row = 0
        self.t_scale = 1000.0
        self._colours = colours
        self._counters = counters
        self._say = say
        self._gathered: Rows | None = None
        self._t_at = 0
        self._n_at: int | None = None
        self._colour_at: tuple[int, ...] = ()
        self._width = 0

    @property
    def rows(self) -> int:
        return self._gathered.rows if self._gathered is not None else 0

    def use(self, header: Header) -> None:
        """Another header. What was gathered under the one before must have been taken."""
        header = bounded(header, self._known)
        self.header = header
        self._gathered = Rows(header)
        self._t_at = header.first("t") or 0
        self._n_at = header.first("n")
        self._colour_at = tuple(i for i, column in enumerate(header.columns) if column.kind == "colour")
        self._width = len(header.columns)
        self.t_scale = header.columns[self._t_at].scale[0]

    def arrived(self, arrival_us: int) -> None:
        """What was gathered since the last call arrived at this time."""
        if self._gathered is not None:
            self._gathered.arrived(arrival_us)

    def take(self, arrival_us: int) -> Columns:
        """The samples gathered, as columns."""
        return self._gathered.take(arrival_us) if self._gathered is not None and self._gathered.rows else no_samples()

    def take_line(self, text: str, fields: list[str]) -> None:
        """One line, ``text`` cut into ``fields``. Raises ValueError with the reason where it is no sample."""
        if self._gathered is None or len(fields) != self._width:
            raise ValueError(f"wrong number of fields: {len(fields)} instead of {self._width}")
        names = self._colours.names
        try:
            values = self._quickly(text, fields)
            t_us = self._time(values[self._t_at])
            n = -1 if self._n_at is None else _running_number(values[self._n_at])
        except ValueError:
            self._colours.forget(names)
            raise
        t_us, n = self._counters.step(t_us, n, self.row)
        self._gathered.add(t_us, n, self._counters.boot, values)
        self.row += 1

    def take_run(self, run: bytes, starred: bool) -> Iterator[tuple[int, int, bool]]:
        """Many lines at once, made flat as ``block.fields_of`` wants them; gives stretches of them in order.

        True: lines from the first to before the second are taken. False: they are for ``take_line``, before going on.
        """
        if self.header is None or self._gathered is None:
            return
        values, odd = block.fields_of(run, self.header, starred, self._colours.index)
        n = None if self._n_at is None else values[self._n_at]
        times, numbers, broken = block.whole_counters(values[self._t_at], n, self.t_scale)
        edges = [-1, *np.flatnonzero(odd | broken).tolist(), len(times)]
        done = 0
        for before, stop in pairwise(edges):
            start = before + 1
            if stop - start < _FEW:
                continue
            if done < start:
                yield done, start, False
            done = stop
            part = slice(start, stop)
            lines = None if numbers is None else numbers[part]
            counters = self._counters.run(times[part], lines, self.row)
            self._gathered.add_block(*counters, [column[part] for column in values])
            self.row += stop - start
            yield start, stop, True
        if done < len(times):
            yield done, len(times), False

    def _time(self, sent: float) -> int:
        t_us = sent * self.t_scale
        if not -WHOLE_MAX < t_us < WHOLE_MAX:
            raise ValueError("no time: t is empty" if isnan(t_us) else "time out of range")
        return round(t_us)

    def _quickly(self, text: str, fields: list[str]) -> list[float]:
        if "_" not in text and text.isascii():
            try:
                values: list[str | int] = [*fields]
                for i in self._colour_at:
                    values[i] = self._colours.index[fields[i]]
                return [float(value) if value != "" else NAN for value in values]
            except (KeyError, ValueError):
                pass
        return self._carefully(fields)

    def _carefully(self, fields: list[str]) -> list[float]:
        """The same for a line in which something is unusual. Raises ValueError with the reason, which names the column."""
        values: list[float] = []
        remarks: dict[str, str] = {}
        for column, field in zip(self.header.columns if self.header else (), fields, strict=True):
            try:
                if column.kind == "colour":
                    value, code = self._colours.look_up(field)
                    values.append(value)
                    if code is not None:
                        what = f"The colour code {code} is not explained by a #codes line; it is kept as 'code {code}'."
                        remarks[f"code {code}"] = what
                elif column.kind == "further":
                    number, word = parse_further(field)
                    values.append(number)
                    if word:
                        what = f"The column '{column.name}' holds words: as a channel it is empty, the raw stream has them."
                        what += _meant(column.name)
                        remarks[f"word {column.name}"] = what
                else:
                    values.append(parse_number(field))
            except ValueError as error:
                kind, _, what = str(error).partition(":")
                raise ValueError(f"{kind}: {column.sent} is{what}") from None
        for key, remark in remarks.items():
            self._say(key, remark)
        return values


def _meant(name: str) -> str:
    """A column of words is the sensor's colour, or of no use: a misspelt name is worth a hint."""
    quantity, dot, sensor = name.partition(".")
    return f" Did you mean '{'colour' + dot + sensor}'?" if get_close_matches(quantity.lower(), ["colour"]) else ""


def _running_number(sent: float) -> int:
    if isnan(sent):
        return -1
    if not (0 <= sent < WHOLE_MAX and sent == int(sent)):
        raise ValueError("not a running number: n is a whole number from 0 on")
    return int(sent)
