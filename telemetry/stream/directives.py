"""Lines that begin with ``#``: the header, and what codes, ranges and wraps the robot announces."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from telemetry.errors import StreamError
from telemetry.stream.colours import Colours, parse_codes
from telemetry.stream.columns import Header, parse_header
from telemetry.stream.counters import WHOLE_MAX, Counters
from telemetry.stream.numbers import is_number

_KNOWN: Final = ("codes", "range", "wrap")


class NotADirectiveError(ValueError):
    """Text that only happens to begin with ``#``."""


class Directives:
    """What was announced so far. ``ranges`` and ``units`` as in ``sample.SampleTable``; ``version`` counts their changes."""

    def __init__(self, colours: Colours, counters: Counters, say: Callable[[str, str], None]) -> None:
        self.ranges: dict[str, tuple[float, float]] = {}
        self.units: dict[str, str] = {}
        self.version = 0
        self._colours = colours
        self._counters = counters
        self._say = say
        self._header_text = ""
        self._ranges: dict[str, tuple[float, float]] = {}
        self._wraps: dict[str, float] = {}

    def read(self, text: str, header: Header | None, anew: bool) -> Header | None:
        """Take the line ``text`` (without its ``#``); gives a header that differs from ``header``, the one in force.

        ``anew``: also one that does not differ.

        Raises NotADirectiveError, and ValueError with the reason where the line is wrong.
        """
        if header is not None and not anew and text == self._header_text:
            return None
        keyword, _, rest = text.partition(",")
        if keyword.strip() in _KNOWN and "=" in rest:
            self._announce(keyword.strip(), rest, header)
            return None
        return self._columns(text, None if anew else header)

    def apply(self, header: Header) -> None:
        """Make what was announced hold for ``header``: ranges and wraps are in its units."""
        before = (dict(self.ranges), dict(self.units))
        for column in header.columns:
            if column.kind == "further" and column.unit:
                self.units[column.name] = column.unit
            if column.sent in self._ranges:
                multiply, divide = column.scale
                low, high = self._ranges[column.sent]
                self.ranges[column.name] = (low * multiply / divide, high * multiply / divide)
            if column.kind == "t" and "t" in self._wraps:
                self._counters.t.modulus = round(self._wraps["t"] * column.scale[0])
        if "n" in self._wraps:
            self._counters.n.modulus = round(self._wraps["n"])
        self.version += (self.ranges, self.units) != before

    def _columns(self, text: str, header: Header | None) -> Header | None:
        fields = [field.strip() for field in text.split(",")]
        # Blanks are fine in the name of a further column; a line with them but without a time is a sentence.
        timed = any(_only_t(field) for field in fields)
        sentence = len(fields) == 1 or any(" " in field for field in fields)
        if (sentence and not timed) or not all(field.isprintable() for field in fields):
            raise NotADirectiveError(text)
        try:
            found = parse_header(text)
        except StreamError as error:
            self._say(f"header {error.what}", f"A header was not taken: {error.what}. {error.todo}")
            raise ValueError(f"not a header: {error.what}") from error
        self._header_text = text
        if header is not None and found.columns == header.columns:
            return None
        self.apply(found)
        return found

    def _announce(self, keyword: str, rest: str, header: Header | None) -> None:
        try:
            if keyword == "codes":
                self._colours.learn(parse_codes(rest))
                return
            pairs = [tuple(part.strip() for part in pair.partition("=")) for pair in rest.split(",")]
            if keyword == "range":
                self._ranges.update({name: _range(value) for name, _, value in pairs})
            else:
                self._wraps.update({name: _wrap(value) for name, _, value in pairs})
        except ValueError as error:
            raise ValueError(f"not a #{keyword} line: {error}") from None
        if header is not None:
            self.apply(header)


def _only_t(field: str) -> bool:
    return field == "t" or field.startswith("t/")


def _range(text: str) -> tuple[float, float]:
    low, dots, high = text.partition("..")
    if not dots or not is_number(low) or not is_number(high) or not float(low) < float(high):
        raise ValueError(f"{text[:20]!r} is not of the form low..high")
    return float(low), float(high)


def _wrap(text: str) -> float:
    if not is_number(text) or not 0 < float(text) < WHOLE_MAX / 1_000_000:
        raise ValueError(f"{text[:20]!r} is not a count")
    return float(text)
