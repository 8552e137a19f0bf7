"""What is said of a recording that was just made."""

from __future__ import annotations

from functools import cached_property
from pathlib import Path

from telemetry.errors import SidelongError
from telemetry.recording.assemble import StreamSummary
from telemetry.recording.duration import arrived_s, duration_s
from telemetry.recording.library import AT_ONCE_S
from telemetry.recording.load import Recording, load
from telemetry.replay.doubts import doubts, no_colour, notes_missed
from telemetry.replay.header import palette_for
from telemetry.safe_text import as_typed
from telemetry.stream.garbage import WRONG_BAUD
from telemetry.stream.pace import pace_of
from telemetry.wording import counted, sentences


class JustMade:
    """A recording in ``path``, ``summary`` of what it was made from. It is read once, and only where that is needed."""

    def __init__(self, path: Path, summary: StreamSummary) -> None:
        self._path, self._summary = path, summary

    @cached_property
    def _recording(self) -> Recording:
        return load(self._path)

    def line(self, *, fetched: bool = False) -> str:
        """Samples, duration and what is missing. Raises RecordingError where it cannot be read."""
        summary = self._summary
        seconds = arrived_s(summary)
        if summary.rows and seconds < AT_ONCE_S:
            seconds = duration_s(summary, self._recording.table.columns)
        parts = [f"{counted(summary.rows, 'sample')} in {seconds:.1f} s"]
        damaged = ((summary.rejected, "lines rejected"), (summary.lost, "lines lost"))
        parts += [f"{count} {what}" for count, what in damaged if count]
        if summary.gaps:
            parts.append(f"interrupted {len(summary.gaps)} times" if len(summary.gaps) > 1 else "interrupted once")
        if summary.damage:
            parts.append("missing: " + "; ".join(summary.damage))
        text = f"{self._path}: {', '.join(parts)}"
        if summary.rows:
            return text
        if not fetched and (WRONG_BAUD in summary.remarks or not summary.rejected):
            return f"{text}. Nothing in it looks like samples: is --baud right?"
        again = f"; to read this again: sidelong ingest {as_typed(self._path)} --columns NAMES" if not fetched else ""
        return f"{text}. Nothing in it looks like samples: numbers without a header need --columns, which names them{again}"

    def warnings(self) -> tuple[str, ...]:
        """What the user should know; nothing where it cannot be read."""
        try:
            table, course = self._recording.table, self._recording.course
            written = self._recording.meta.palette
            palette = palette_for(table, course, None, written) if written else None
        except SidelongError:
            return ()
        if not table.rows:
            return ()
        found = (*doubts(table, course, palette), *no_colour(table), *notes_missed(table, course))
        return sentences([*found, *pace_of(table.columns, table.rows, table.lost).repeats()])
