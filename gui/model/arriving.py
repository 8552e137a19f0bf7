"""What arrives from a robot, line by line, and what becomes of it with columns that are named by hand."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from gui.model.column_guess import ColumnGuess, guess_columns, rows_of
from gui.words import tr
from telemetry.errors import SidelongError
from telemetry.recording.journal.reader import JournalReader
from telemetry.recording.journal.records import RecordKind
from telemetry.safe_text import for_terminal
from telemetry.sample import SampleTable
from telemetry.stream.columns import named_columns, parse_header
from telemetry.stream.decoder import Decoder

KEPT_LINES: Final = 400
LONGEST_LINE: Final = 240
DIRECTIVES: Final = ("#codes", "#range", "#wrap")


@dataclass(frozen=True, slots=True)
class Preview:
    """``latest``: (channel, its newest value in words). ``problem``: why there is none."""

    understood: int
    lines: int
    latest: tuple[tuple[str, str], ...]
    problem: str = ""


class Arriving:
    """Reads a journal that grows. ``lines``: the last ones, (arrival in s, text); ``header``: the robot's own names."""

    def __init__(self, journal: Path) -> None:
        self._reader = JournalReader(journal)
        self._rest = b""
        self.lines: deque[tuple[float, str]] = deque(maxlen=KEPT_LINES)
        self.count = 0
        self.bytes = 0
        self.header = ""

    def poll(self) -> bool:
        """Take in what has come; whether anything has. Raises SidelongError."""
        some = False
        while records := self._reader.read():
            for record in records:
                if record.kind is RecordKind.BYTES:
                    some = True
                    self._take(record.payload, record.arrival_ns / 1e9)
        return some

    def close(self) -> None:
        """Let go of the journal."""
        self._reader.close()

    def _take(self, data: bytes, arrival_s: float) -> None:
        self.bytes += len(data)
        *whole, self._rest = (self._rest + data.replace(b"\r", b"\n")).split(b"\n")
        self._rest = self._rest[:LONGEST_LINE]
        for line in whole:
            text = for_terminal(line[:LONGEST_LINE].decode("utf-8", "replace")).strip()
            if text:
                self.count += 1
                self.lines.append((arrival_s, text))
                if text.startswith("#") and not text.startswith(DIRECTIVES):
                    self.header = self._named(text[1:]) or self.header

    @staticmethod
    def _named(text: str) -> str:
        columns = text.split("*", maxsplit=1)[0]
        try:
            parse_header(columns)
        except SidelongError:
            return ""
        return columns

    @property
    def seconds(self) -> float:
        """How long the lines that are kept took to arrive."""
        return self.lines[-1][0] - self.lines[0][0] if self.lines else 0.0

    @property
    def texts(self) -> list[str]:
        return [text for _, text in self.lines]

    def guess(self) -> list[ColumnGuess]:
        """What the columns look like; empty where no line holds numbers."""
        return guess_columns(self.texts, self.seconds)

    def newest(self) -> list[str]:
        """The fields of the last line of numbers."""
        rows = rows_of(self.texts)
        return rows[-1] if rows else []


def preview(columns: str, lines: Sequence[str]) -> Preview:
    """What these columns make of these lines, by the decoder that every recording goes through."""
    data = [line for line in lines if line[0] not in "#!"]
    try:
        named_columns(columns)
        decoder, table = Decoder(columns), SampleTable()
        for chunk in decoder.feed(("\n".join(data) + "\n").encode(), 0):
            table.append(chunk)
        for chunk in decoder.finish():
            table.append(chunk)
    except SidelongError as error:
        return Preview(0, len(data), (), error.what)
    latest = []
    for name, column in table.columns.items():
        if name in ("arrival_us", "boot") or not table.rows:
            continue
        latest.append((tr("clock"), f"{column[-1] / 1e6:.3f} s") if name == "t_us" else (name, _said(name, column, table)))
    return Preview(table.rows, len(data), tuple(latest))


def _said(name: str, column: np.ndarray[tuple[int], np.dtype[np.generic]], table: SampleTable) -> str:
    value = float(column[-1])
    if name.split(".", maxsplit=1)[0] == "colour":
        return table.colours[int(value)] if 0 <= value < len(table.colours) else "–"
    return "–" if np.isnan(value) else f"{value:g}"
