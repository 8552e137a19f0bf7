"""What a capture shows while it runs: readings as they are made, the robot's console, gaps and silence."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO

from telemetry.beside import is_recording
from telemetry.errors import StorageError
from telemetry.safe_text import for_json
from telemetry.text_in_place import is_device

if TYPE_CHECKING:
    from telemetry.course import Course
    from telemetry.live.reader import LiveReader
    from telemetry.live.readings import LiveReadings
    from telemetry.replay.readings import Reading
    from telemetry.sample import Line

SILENT_S = 2.0
BUDGET_AFTER_S = 3.0
Say = Callable[[str], None]


def reading_line(strategy: str, reading: Reading, course: Course) -> dict[str, Any]:
    """One reading as it is logged; the same from a capture and from a replay."""
    return {
        "strategy": strategy,
        "slot": None if reading.slot is None else course.slots[reading.slot].name,
        "colour": reading.colour,
        "how": reading.how,
        "t_ms": reading.t_ms,
        "dist_cm": None if reading.dist_cm is None else round(reading.dist_cm, 3),
        "sample": reading.row,
    }


class ReadingLog:
    """Writes each reading as a line of JSON the moment it is made."""

    def __init__(self, path: Path) -> None:
        if is_recording(path):
            raise StorageError("this is a recording, and none is written over", where=str(path), todo="Choose another name")
        try:
            is_device(path)  # a pipe in a folder would be waited for
            self._file: TextIO = path.open("w", encoding="utf-8", newline="\n")
        except OSError as error:
            raise StorageError(
                f"cannot be written: {(error.strerror or str(error)).lower()}", where=str(path), todo="Choose another place"
            ) from error

    def __enter__(self) -> ReadingLog:
        return self

    def __exit__(self, *error: object) -> None:
        self.close()

    def write(self, line: Mapping[str, Any]) -> None:
        """Write and flush."""
        self._file.write(for_json(line))
        self._file.flush()

    def close(self) -> None:
        """May be called twice. What could not be written was said when it was."""
        with suppress(OSError):
            self._file.close()


class LiveView:
    """Says what is new in a run, in words."""

    def __init__(self, reader: LiveReader, say: Say, log: ReadingLog | None = None) -> None:
        self.reader = reader
        self.follower = reader.follower
        self._say = say
        self._log = log
        self._remarks = 0
        self._gaps = 0
        self._open_gap = False
        self._silent = False
        self._link_said = False
        self._budget_said = False

    def poll(self) -> None:
        """Take in what is new, without stepping the readings."""
        at_once = True
        while at_once:
            at_once = self.reader.poll() > 0
            self._say_console(self.reader.console())

    def step(self) -> None:
        """Step the readings, and say what there is to say."""
        self._tell(self.reader.read())
        self.reader.forget()
        summary = self.follower.summary
        for remark in summary.remarks[self._remarks :]:
            self._say(f"note: {_printable(remark)}")
        self._remarks = len(summary.remarks)
        if summary.link and not self._link_said:
            from telemetry.report.link_words import connected_words

            self._link_said = True
            self._say(connected_words(summary.link))
        if not self._budget_said and summary.last_us - summary.first_us >= BUDGET_AFTER_S * 1e6:
            self._budget_said = True
            self._say_budget()
        for gap in summary.gaps[self._gaps :]:
            self._say(f"the stream is interrupted: {_printable(gap.reason)}")
        self._open_gap = self._open_gap or len(summary.gaps) > self._gaps
        self._gaps = len(summary.gaps)
        if self._open_gap and summary.gaps[-1].until_us is not None:
            missing_s = (summary.gaps[-1].until_us - summary.gaps[-1].from_us) / 1e6
            self._say(f"data again, {missing_s:.1f} s are missing; it goes on in the same recording")
            self._open_gap = False

    def _say_budget(self) -> None:
        from telemetry.report.link_words import LineFlow, budget_words

        summary, meta = self.follower.summary, self.follower.meta
        lost = 0 if summary.gaps else summary.lost  # those in a gap are no fault of the link's size
        flow = LineFlow.of(summary.rows, lost, summary.bytes, (summary.last_us - summary.first_us) / 1e6)
        words = budget_words(meta.source, meta.baud, summary.link, flow) if flow is not None else ""
        if words:
            self._say(words)

    def watch_silence(self, now_us: int, started_us: int, where: str) -> None:
        """Say it once when nothing arrives, and once when it goes on."""
        last_us = self.follower.summary.last_us or started_us
        silent = now_us - last_us > SILENT_S * 1e6
        if silent and not self._silent and not self._open_gap:
            if self.follower.summary.last_us:
                self._say(f"nothing has arrived for {SILENT_S:.0f} s")
            else:
                self._say(f"nothing has arrived from {where} yet: is the robot's program running?")
        elif self._silent and not silent and self.follower.summary.last_us:
            self._say("data is arriving")
        self._silent = silent

    def finish(self) -> None:
        """What is decided at the end."""
        self.poll()
        self.step()
        # Without an end in the journal more of it may come to light later.
        if self.reader.readings is not None and self.follower.state == "ended":
            applied = {strategy for strategy, lacking in self.reader.readings.lacking.items() if not lacking}
            self._tell(self.reader.finish())
            for strategy, lacking in self.reader.readings.lacking.items():
                if lacking and strategy in applied:  # what comes late in a run is missed only now
                    said = _sum(strategy, self.reader.readings, self.follower.meta.truth)
                    self._say(_printable(f"{said}. The run ended too early for the rest, or: {lacking}"))
                elif lacking:
                    self._say(f"{strategy} does not apply here: {lacking}")
                else:
                    self._say(_printable(_sum(strategy, self.reader.readings, self.follower.meta.truth)))

    def _tell(self, readings: list[tuple[str, Reading]]) -> None:
        live = self.reader.readings
        if live is None:
            return
        for strategy, reading in readings:
            line = reading_line(strategy, reading, live.course)
            if self._log is not None:
                self._log.write(line)
            t = "" if reading.t_ms is None else f"{reading.t_ms / 1000:9.2f} s  "
            place = "" if reading.dist_cm is None else f", decided at {reading.dist_cm:.1f} cm"
            slot = line["slot"] or "surplus"
            named = f"  [{strategy}]" if len(live.strategies) > 1 else ""
            self._say(f"{t}{_printable(slot)}: {_printable(reading.colour or 'empty')} ({reading.how}){place}{named}")

    def _say_console(self, lines: list[Line]) -> None:
        for line in lines:
            self._say(f"robot: {_printable(line.raw.decode('utf-8', 'replace'))}")


def _sum(strategy: str, live: LiveReadings, truth: tuple[str, ...] | None) -> str:
    """'windows: 6 of 8 right; crate 2: sky (not rust), crate 5: not read'; without a truth how many slots were read."""
    from telemetry.replay.scoring.score import slot_verdicts

    course, taken = live.course, live.runners[strategy].taken
    read = [one.colour for one in taken.slots]
    names = [slot.name for slot in course.slots]
    if truth is None or len(truth) != len(names):
        open_slots = [name for name, colour in zip(names, read, strict=True) if colour is None]
        still = f"; not read: {', '.join(open_slots)}" if open_slots else ""
        return f"{strategy}: {len(names) - len(open_slots)} of {len(names)} slots read{still}"
    verdicts = slot_verdicts(truth, taken)
    off = [
        f"{name}: {'not read' if verdict == 'missing' else f'{colour} (not {true})'}"
        for name, colour, true, verdict in zip(names, read, truth, verdicts, strict=True)
        if verdict != "right"
    ]
    beyond = [f"{len(taken.surplus)} taken beyond the slots"] if taken.surplus else []
    right = f"{strategy}: {len(names) - len(off)} of {len(names)} right"
    return "; ".join([right, *([", ".join(off)] if off else []), *beyond])


def _printable(text: str) -> str:
    from telemetry.report.table import printable

    return printable(text)
