"""The decoder: bytes in, samples out, however the bytes are cut up. Pure: no clock, no file, no link.

One line at a time is the exact way, in this file; large blocks of plain samples take the short cut of ``block``.
Directives (lines with ``#``) are in ``directives``.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Final

import numpy as np

from telemetry.sample import Chunk
from telemetry.stream import block as blocks
from telemetry.stream.colours import Colours
from telemetry.stream.columns import Header, named_columns
from telemetry.stream.counters import WHOLE_MAX, Counters
from telemetry.stream.directives import Directives, NotADirectiveError
from telemetry.stream.garbage import MARK, UTF16, WRONG_BAUD, GarbageWatch, is_utf16, text_of
from telemetry.stream.line import LINE_MAX, checksum
from telemetry.stream.numbers import is_number, looks_like_data, split_plain
from telemetry.stream.outbox import Outbox
from telemetry.stream.remarks import Remarks
from telemetry.stream.sampler import Sampler
from telemetry.stream.tally import Tally

KEEP_BYTES: Final = 4096
"""So much of a line without an end is held; the rest is only counted (the journal has all of it)."""
_FAST_LINES: Final = 12
_WINDOW_BYTES: Final = 1 << 16
_HINT_AFTER: Final = 20
_ENDLESS: Final = f"No line end in {KEEP_BYTES} bytes: is this a line stream? Such a line's beginning is kept."
_CLAIMS: Final = {(a + b).encode(): int(a + b, 16) for a in "0123456789abcdefABCDEF" for b in "0123456789abcdefABCDEF"}
_HINT: Final = (
    "These look like plain numbers, and no header has come. If the robot sends none, name the columns in their order:"
    ' --columns "t/ms,colour,dist/cm".'
)


class Decoder:
    """Decodes one stream. ``columns`` names the columns of lines without a header: ``t/ms,refl/%,heading/deg``.

    A header in the stream takes the place of ``columns``. ``tally`` says where every byte went; the reasons of rejected
    lines begin with a fixed phrase, up to the colon. Raises StreamError for ``columns`` that cannot be.
    """

    def __init__(self, columns: str | None = None) -> None:
        self.tally = Tally()
        self._colours = Colours()
        self._remarks = Remarks()
        self._counters = Counters(self._remarks.say)
        self._sampler = Sampler(self._colours, self._counters, self._remarks.say)
        self._directives = Directives(self._colours, self._counters, self._remarks.say)
        self._watch = GarbageWatch()
        self._out = Outbox(
            self.tally, self._sampler, colours=self._colours, counters=self._counters, directives=self._directives,
            remarks=self._remarks,
        )  # fmt: skip
        self._rest = b""
        self._more = 0
        self._headless = 0
        self._loose = False
        if columns is not None:
            header = named_columns(columns)
            self._directives.apply(header)
            self._use(header)
            self._loose = True

    @property
    def header(self) -> Header | None:
        """The columns in force."""
        return self._sampler.header

    @property
    def rows(self) -> int:
        """Samples so far."""
        return self._sampler.row

    @property
    def boot(self) -> int:
        """Restarts so far."""
        return self._counters.boot

    @property
    def lost(self) -> int:
        """Lines lost so far, by the running number."""
        return self._counters.lost

    def feed(self, data: bytes, arrival_us: int, *, more: bool = False) -> list[Chunk]:
        """What ``data`` completes. ``arrival_us`` (Unix time) goes to every line whose end is in ``data``.

        ``more``: another call follows at once, and this one gives nothing; then many small pieces become one chunk.
        """
        self._feed(data, arrival_us)
        if more:
            self._sampler.arrived(arrival_us)
            return []
        return self._out.take()

    def _feed(self, data: bytes, arrival_us: int) -> None:
        self._out.arrival_us = arrival_us
        self.tally.bytes_in += len(data)
        if b"\r" in data:
            data = data.replace(b"\r", b"\n")
        cut = data.rfind(b"\n")
        if cut < 0:
            self._hold(data)
            return
        self.tally.line_ends += data.count(b"\n")
        body = data[:cut]
        if self._rest:
            first, _, body = body.partition(b"\n")
            self._hold(first)
            self._end_line()
        if body:
            self._lines(body)
        self._hold(data[cut + 1 :])

    def finish(self) -> list[Chunk]:
        """The last line, if its end never came, and what can only be said at the end."""
        self._end_line()
        if self._sampler.header is None and self._headless:
            self._remarks.say("no header", _HINT)
        if self._watch.much() and not self._sampler.row:
            self._remarks.say("baud", WRONG_BAUD)
        if self._counters.slips > 1:
            self._remarks.say("slips", f"The robot's time jumped back {self._counters.slips} times in all.")
        return self._out.take()

    # -- from bytes to lines

    def _hold(self, piece: bytes) -> None:
        rest = self._rest + piece
        if len(rest) > KEEP_BYTES:
            if not self._more:
                self._endless(rest[:KEEP_BYTES])
            self._more += len(rest) - KEEP_BYTES
            rest = rest[:KEEP_BYTES]
        self._rest = rest
        self.tally.waiting = len(rest) + self._more

    def _end_line(self) -> None:
        raw, more = self._rest, self._more
        self._rest, self._more, self.tally.waiting = b"", 0, 0
        if more:
            self._too_long(raw, len(raw) + more)
        elif raw:
            self._line(raw)

    def _lines(self, body: bytes) -> None:
        while b"\n\n" in body:
            body = body.replace(b"\n\n", b"\n")
        body = body.strip(b"\n")
        while len(body) > _WINDOW_BYTES:
            cut = body.rfind(b"\n", 0, _WINDOW_BYTES)
            cut = body.find(b"\n") if cut < 0 else cut
            if cut < 0:
                break
            self._window(body[:cut])
            body = body[cut + 1 :]
        if body:
            self._window(body)

    def _window(self, window: bytes) -> None:
        separator = blocks.separator_of(window) if self._loose else b","
        if separator is None or window.count(b"\n") < _FAST_LINES:
            for raw in window.split(b"\n"):
                self._line(raw)
            return
        marks = blocks.mark(window, separator)
        if self._loose:
            blocks.leave_open_ends(window, marks, separator)
        table = blocks.table_for(separator)
        total = len(marks.starts)
        place = 0
        while place < total:
            header, loose = self._sampler.header, self._loose
            if header is not None:
                fits = marks.good[place:] & (marks.separators[place:] == len(header.columns) - 1)
                kinds = np.where(fits, 1 + marks.starred[place:], 0)
                edges = [0, *(np.flatnonzero(np.diff(kinds)) + 1).tolist(), total - place]
                start = place
                for begin, end in pairwise(edges):
                    stretch = (start + begin, start + end)
                    if kinds[begin]:
                        self._stretch(window, marks, stretch, table)
                    else:
                        self._walk(window, marks, *stretch)
                    place = start + end
                    if self._sampler.header is not header:
                        break
            # After a new header some lines go the exact way, so that headers that change all the time stay cheap.
            if self._sampler.header is not header or header is None:
                place = self._walk(window, marks, place, min(place + _FAST_LINES, total))
            if loose and not self._loose and place < total:
                self._window(window[marks.starts[place] :])
                return

    def _stretch(self, window: bytes, marks: blocks.Marks, stretch: tuple[int, int], table: bytes) -> None:
        """Lines that may all be plain samples, all with or all without a checksum."""
        begin, end = stretch
        if end - begin < _FAST_LINES:
            self._walk(window, marks, begin, end)
            return
        piece = window[marks.starts[begin] : marks.ends[end - 1]]
        for start, stop, taken in self._sampler.take_run(piece.translate(table), bool(marks.starred[begin])):
            if not taken:
                self._walk(window, marks, begin + start, begin + stop)
                continue
            size = int(marks.ends[begin + stop - 1] - marks.starts[begin + start]) - (stop - start - 1)
            self.tally.add("data", size, stop - start)
            self._watch.good(size)

    def _walk(self, window: bytes, marks: blocks.Marks, begin: int, end: int) -> int:
        starts, ends = marks.starts[begin:end].tolist(), marks.ends[begin:end].tolist()
        for start, stop in zip(starts, ends, strict=True):
            self._line(window[start:stop])
        return end

    # -- one line

    def _line(self, raw: bytes) -> None:
        """One line without its end, not empty."""
        if len(raw) > LINE_MAX:
            if len(raw) > KEEP_BYTES:
                self._endless(raw[:KEEP_BYTES])
            self._too_long(raw[:KEEP_BYTES], len(raw))
            return
        try:
            text = raw.decode("ascii")
        except UnicodeDecodeError:
            self._odd(raw)
            return
        if text.isprintable():
            self._text(text, raw)
        else:
            self._odd(raw)

    def _text(self, text: str, raw: bytes) -> None:
        if self._watch.weight:
            self._watch.good(len(raw))
        if raw[-3:-2] == b"*":
            claimed = _CLAIMS.get(raw[-2:])
            if claimed is not None:
                counted = checksum(raw[:-3])
                if counted != claimed:
                    self._out.reject(raw, f"wrong checksum: *{claimed:02X} was sent, *{counted:02X} counted")
                    return
                text = text[:-3]
        first = text[:1]
        if first == "#":
            self._directive(text, raw)
        elif first == "!":
            self._note(text, raw)
        else:
            self._data(text, raw)

    def _data(self, text: str, raw: bytes) -> None:
        sampler = self._sampler
        if sampler.header is None:
            self._before_header(text, raw)
            return
        fields = split_plain(text) if self._loose else text.split(",")
        try:
            sampler.take_line(text, fields)
        except ValueError as error:
            self._misfit(raw, text, fields, str(error))
            return
        self.tally.add("data", len(raw))

    def _before_header(self, text: str, raw: bytes) -> None:
        if not looks_like_data(split_plain(text), text):
            self._out.to_console(raw)
            return
        self._headless += 1
        if self._headless == _HINT_AFTER:
            self._remarks.say("no header", _HINT)
        self._out.reject(raw, "before the first header")

    def _misfit(self, raw: bytes, text: str, fields: list[str], reason: str) -> None:
        """A line that is no sample: damaged, or something the robot's program or board said."""
        if looks_like_data(fields, text):
            self._out.reject(raw, reason)
        else:
            self._out.to_console(raw)

    def _note(self, text: str, raw: bytes) -> None:
        time, comma, words = text[1:].partition(",")
        if not comma or not is_number(time.strip()):
            if comma or time[:1].isdigit():
                self._out.reject(raw, "not a note: it has no time and text (!t,text)")
            else:
                self._out.to_console(raw)
            return
        scaled = float(time) * self._sampler.t_scale
        if not -WHOLE_MAX < scaled < WHOLE_MAX:
            self._out.reject(raw, "time out of range")
            return
        if self._sampler.header is None:
            self._remarks.say("early note", "A note came before the header: its time is taken as ms.")
        t_us = self._counters.t.value(round(scaled))
        self._out.note(t_us, words, len(raw))

    def _directive(self, text: str, raw: bytes) -> None:
        try:
            header = self._directives.read(text[1:], self._sampler.header, self._loose)
        except NotADirectiveError:
            self._out.to_console(raw)
            return
        except ValueError as error:
            self._out.reject(raw, str(error))
            return
        if header is not None:
            self._use(header)
        self.tally.add("header", len(raw))

    def _use(self, header: Header) -> None:
        """A header that differs from the one in force."""
        before, row = self._sampler.header, self._sampler.row
        self._out.close_rows()
        self._sampler.use(header)
        self._loose = False
        for fault in header.faults:
            self._remarks.say(f"unit {fault}", str(fault))
        if before is not None and before.columns != header.columns:
            new = [name for name in header.names if name not in before.names]
            gone = [name for name in before.names if name not in header.names]
            parts = [f"new: {', '.join(new)}"] * bool(new) + [f"gone: {', '.join(gone)}"] * bool(gone)
            self._remarks.say(
                f"header {row}", f"The header changed after {row} samples ({'; '.join(parts) or 'order or units'})."
            )

    def _odd(self, raw: bytes) -> None:
        """A line with bytes that are not printable ASCII."""
        if raw.startswith(MARK):
            self.tally.add("header", len(MARK), 0)
            if len(raw) > len(MARK):
                self._line(raw[len(MARK) :])
            return
        text, fault = text_of(raw)
        if not fault:
            self._text(text, raw)
            return
        self._weigh(raw)
        self._out.reject(raw, fault)

    def _endless(self, kept: bytes) -> None:
        """A line has passed what is held."""
        self._remarks.say("endless", _ENDLESS)
        self._weigh(kept)

    def _too_long(self, kept: bytes, size: int) -> None:
        reason = f"longer than {LINE_MAX} bytes: {size} bytes"
        if size > len(kept):
            reason += f", the first {len(kept)} are kept here"
        else:
            self._weigh(kept)
        self._out.reject(kept, reason, size)

    def _weigh(self, raw: bytes) -> None:
        if is_utf16(raw):
            self._remarks.say("utf-16", UTF16)
        elif self._watch.bad(raw):
            self._remarks.say("baud", WRONG_BAUD)
