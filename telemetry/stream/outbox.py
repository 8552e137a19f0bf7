"""What a decoder has found and not handed on yet: samples, notes, rejected lines and console text, closed into chunks."""

from __future__ import annotations

from telemetry.sample import Chunk, Line, Note
from telemetry.stream.colours import Colours
from telemetry.stream.counters import Counters
from telemetry.stream.directives import Directives
from telemetry.stream.remarks import Remarks
from telemetry.stream.sampler import Sampler
from telemetry.stream.tally import Tally


class Outbox:
    """``arrival_us``: when what comes now has arrived. Every line that is put here is counted in the tally."""

    def __init__(
        self, tally: Tally, sampler: Sampler, *,
        colours: Colours, counters: Counters, directives: Directives, remarks: Remarks,
    ) -> None:  # fmt: skip
        self.arrival_us = 0
        self._tally, self._sampler = tally, sampler
        self._colours, self._counters, self._directives, self._remarks = colours, counters, directives, remarks
        self._done: list[Chunk] = []
        self._notes: list[Note] = []
        self._rejected: list[Line] = []
        self._console: list[Line] = []
        self._told = (1, 0)
        self._lost_told = 0

    def note(self, t_us: int, words: str, size: int) -> None:
        self._notes.append(Note(self._sampler.row, t_us, self.arrival_us, words))
        self._remarks.heard(words)
        self._tally.add("note", size)

    def reject(self, raw: bytes, reason: str, size: int | None = None) -> None:
        """``size``: that of the whole line, where ``raw`` is only its beginning."""
        self._rejected.append(Line(self._sampler.row, self.arrival_us, raw, reason))
        self._tally.add("rejected", len(raw) if size is None else size)

    def to_console(self, raw: bytes) -> None:
        self._console.append(Line(self._sampler.row, self.arrival_us, raw))
        self._tally.add("console", len(raw))

    def close_rows(self) -> None:
        """What comes next has other columns: the samples so far are a chunk of their own."""
        if self._sampler.rows:
            self._close()

    def take(self) -> list[Chunk]:
        """All chunks that were not taken yet."""
        state = (len(self._colours.names), self._directives.version)
        if self._sampler.rows or self._notes or self._rejected or self._console or self._remarks.new or state != self._told:
            self._close()
        done, self._done = self._done, []
        return done

    def _close(self) -> None:
        rows = self._sampler.rows
        lost, self._lost_told = self._counters.lost - self._lost_told, self._counters.lost
        self._told = (len(self._colours.names), self._directives.version)
        self._done.append(
            Chunk(
                columns=self._sampler.take(self.arrival_us),
                rows=rows,
                colours=self._colours.names,
                notes=tuple(self._notes),
                rejected=tuple(self._rejected),
                console=tuple(self._console),
                remarks=self._remarks.take(),
                lost=lost,
                ranges=dict(self._directives.ranges),
                units=dict(self._directives.units),
            )
        )
        self._notes, self._rejected, self._console = [], [], []
