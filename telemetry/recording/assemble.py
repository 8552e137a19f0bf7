"""From journal records to samples: the one way that live view, the making of a recording and a second reading all take."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import asdict, dataclass, field, replace
from itertools import chain, pairwise
from typing import Any, Final

from telemetry.errors import StreamError
from telemetry.recording.document import LONGEST_SENTENCE, MOST_MOMENTS, MOST_SENTENCES, is_deep
from telemetry.recording.journal.records import Record, RecordKind
from telemetry.recording.meta import Meta
from telemetry.sample import Chunk, Line
from telemetry.stream.decoder import Decoder

HOLD_BYTES: Final = 4096
TOGETHER_BYTES: Final = 1 << 15
"""So much of the stream at most is decoded into one chunk: a chunk has its price, however short it is."""
JOINED_BYTES: Final = 1 << 17
_NOTHING: Final = Record(RecordKind.END, 0, b"")
SIMULATED: Final = "simulated robot"
"""How the built-in robot's first note begins."""
CUT_OFF: Final = "cut off where the stream was interrupted"
HEADLESS: Final = "its beginning was lost where the stream was interrupted"


@dataclass(slots=True)
class Gap:
    """Bytes are missing here. ``row``: samples before it; ``byte``: bytes of the stream before it; times are Unix us.

    ``until_us`` None: nothing has come since.
    """

    row: int
    byte: int
    from_us: int
    until_us: int | None
    reason: str


@dataclass(frozen=True, slots=True)
class Mark:
    """A moment that the user marked."""

    row: int
    arrival_us: int
    text: str


@dataclass
class StreamSummary:
    """What a stream was besides its samples."""

    gaps: list[Gap] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    damage: list[str] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    colours: tuple[str, ...] = ("none",)
    ranges: dict[str, tuple[float, float]] = field(default_factory=dict)
    units: dict[str, str] = field(default_factory=dict)
    rows: int = 0
    bytes: int = 0
    lost: int = 0
    rejected: int = 0
    console: int = 0
    notes: int = 0
    first_us: int = 0
    last_us: int = 0
    link: dict[str, Any] = field(default_factory=dict)
    """How the link was doing when it last told (sources/link_health.py); empty: a source that does not tell."""
    end: str = ""
    """How the capture ended; empty: it was broken off."""

    def to_dict(self) -> dict[str, Any]:
        """Plain values for JSON."""
        return asdict(self)


class Assembler:
    """Feed it the records of one journal in order; it gives the chunks and keeps the summary. Memory stays bounded.

    A gap is never bridged: the half line before it and the half line after it are kept as rejected.
    """

    def __init__(self) -> None:
        self.meta = Meta()
        self.summary = StreamSummary()
        self._decoder: Decoder | None = None
        self._held = b""
        self._skipping = False
        self._was_simulated = False

    @property
    def decoder(self) -> Decoder:
        """The decoder in use; made at the first need, with the columns that the labels name."""
        if self._decoder is None:
            try:
                self._decoder = Decoder(self.meta.columns or None)
            except StreamError as error:
                # Checked before every capture; a journal must become a recording all the same.
                self._decoder = Decoder()
                self.summary.remarks.append(f"The columns named for this run cannot be used: {error}")
        return self._decoder

    @property
    def rows(self) -> int:
        """Samples decoded so far, those of chunks still to come included."""
        return self.decoder.rows

    def feed_many(self, records: Iterable[Record]) -> Iterator[tuple[Record, list[Chunk]]]:
        """Each record with what it turns into; what pieces in a row turn into comes with the last of them."""
        together = 0
        for record, following in pairwise(chain(_joined(records), (_NOTHING,))):
            together += len(record.payload)
            more = record.kind is following.kind is RecordKind.BYTES and together < TOGETHER_BYTES
            together = together if more else 0
            yield record, self.feed(record, more=more)

    def feed(self, record: Record, *, more: bool = False) -> list[Chunk]:
        """What the record turns into. ``more``: as in Decoder, and only before another record of bytes."""
        summary = self.summary
        at_us = record.arrival_ns // 1000
        if record.kind is RecordKind.BYTES:
            return self._count(self._bytes(record.payload, at_us, more=more))
        if record.kind is RecordKind.META:
            self.meta = Meta.from_json(record.text)
            self._simulated(self.meta.simulated)
        elif record.kind in {RecordKind.GAP, RecordKind.DAMAGE}:
            chunks = self._cut(at_us)
            if len(summary.gaps) < MOST_MOMENTS:
                summary.gaps.append(Gap(summary.rows, summary.bytes, at_us, None, record.text[:LONGEST_SENTENCE]))
            return chunks
        elif record.kind is RecordKind.MARK and len(summary.marks) < MOST_MOMENTS:
            summary.marks.append(Mark(summary.rows, at_us, record.text[:LONGEST_SENTENCE]))
        elif record.kind is RecordKind.LINK:
            with suppress(ValueError, TypeError, RecursionError):
                link = dict(json.loads(record.text))
                if len(link) <= MOST_SENTENCES and not is_deep(link):
                    summary.link = link
        elif record.kind is RecordKind.END:
            summary.end = record.text or "ended"
        return []

    def finish(self) -> list[Chunk]:
        """At the end: the last line, if its end never came."""
        chunks: list[Chunk] = []
        if self._skipping:
            chunks += self._kept(self._held, self.summary.last_us, HEADLESS)
        elif self._held:
            chunks += self.decoder.feed(self._held, self.summary.last_us)
        self._held = b""
        return self._count(chunks + self.decoder.finish())

    def _bytes(self, data: bytes, at_us: int, *, more: bool) -> list[Chunk]:
        summary = self.summary
        summary.first_us = summary.first_us or at_us
        summary.last_us = at_us
        summary.bytes += len(data)
        if summary.gaps and summary.gaps[-1].until_us is None:
            summary.gaps[-1].until_us = at_us
        chunks: list[Chunk] = []
        if self._skipping:
            data = self._held + data
            self._held = b""
            # A directive begins with a sign that no sample has: it is whole, and worth keeping.
            if data[:1] != b"#":
                cut = _first_end(data)
                if cut < 0 and len(data) < HOLD_BYTES:
                    self._held = data
                    return []
                cut = len(data) - 1 if cut < 0 else cut
                chunks += self._kept(data[: cut + 1], at_us, HEADLESS)
                data = data[cut + 1 :]
            self._skipping = False
        data = self._held + data
        cut = max(data.rfind(b"\n"), data.rfind(b"\r")) + 1
        if not cut and len(data) > HOLD_BYTES:
            cut = len(data)
        self._held = data[cut:]
        return chunks + self.decoder.feed(data[:cut], at_us, more=more)

    def _cut(self, at_us: int) -> list[Chunk]:
        chunks = self.decoder.feed(b"\n", at_us) if self.decoder.tally.waiting else []
        if self._held:
            chunks += self._kept(self._held, at_us, HEADLESS if self._skipping else CUT_OFF)
            self._held = b""
        self._skipping = True
        return self._count(chunks)

    def _kept(self, raw: bytes, at_us: int, reason: str) -> list[Chunk]:
        tally = self.decoder.tally
        text = raw.rstrip(b"\r\n")
        tally.bytes_in += len(raw)
        tally.line_ends += len(raw) - len(text)
        if not text:
            return []
        tally.add("rejected", len(text))
        line = Line(self.decoder.rows, at_us, text, reason)
        summary = self.summary
        return [Chunk({}, 0, summary.colours, rejected=(line,), ranges=summary.ranges, units=summary.units)]

    def _simulated(self, said: bool) -> None:
        """Once the stream or the labels have said so, it stays."""
        self._was_simulated = self._was_simulated or said
        if self._was_simulated and not self.meta.simulated:
            self.meta = replace(self.meta, simulated=True)

    def _count(self, chunks: list[Chunk]) -> list[Chunk]:
        summary = self.summary
        for chunk in chunks:
            summary.rows += chunk.rows
            summary.lost += chunk.lost
            summary.notes += len(chunk.notes)
            if chunk.notes and not self.meta.simulated:
                self._simulated(any(note.text.startswith(SIMULATED) for note in chunk.notes))
            summary.rejected += len(chunk.rejected)
            summary.console += len(chunk.console)
            summary.remarks += chunk.remarks
            summary.colours = chunk.colours
            summary.ranges.update(chunk.ranges)
            summary.units.update(chunk.units)
        return chunks


def _joined(records: Iterable[Record]) -> Iterator[Record]:
    """Bytes that arrived at one time, which a journal keeps in small pieces, together again."""
    held: list[Record] = []
    size = 0
    for record in records:
        if record.kind is RecordKind.BYTES and (not held or held[0].arrival_ns == record.arrival_ns) and size < JOINED_BYTES:
            held.append(record)
            size += len(record.payload)
            continue
        yield from _one(held)
        held, size = ([record], len(record.payload)) if record.kind is RecordKind.BYTES else ([], 0)
        if not held:
            yield record
    yield from _one(held)


def _one(held: list[Record]) -> Iterator[Record]:
    if len(held) == 1:
        yield held[0]
    elif held:
        yield Record(RecordKind.BYTES, held[0].arrival_ns, b"".join(record.payload for record in held))


def _first_end(data: bytes) -> int:
    ends = [at for at in (data.find(b"\n"), data.find(b"\r")) if at >= 0]
    return min(ends) if ends else -1
