"""What a capture shows while it runs: readings as they are made, the robot's console, gaps and silence."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO

from telemetry.errors import StorageError
from telemetry.recording.follow import Follower

if TYPE_CHECKING:
    from telemetry.course import Course
    from telemetry.palette import Palette
    from telemetry.reading.strategy import Strategy
    from telemetry.replay.readings import Reading
    from telemetry.replay.runner import Runner
    from telemetry.sample import Table

SILENT_S = 2.0
BUDGET_AFTER_S = 3.0
Say = Callable[[str], None]


def check_strategies(strategies: Mapping[str, Strategy], course: Course) -> None:
    """Raise StrategyError before the run rather than during it."""
    from telemetry.palette_default import default_palette
    from telemetry.reading.plan import make_plan

    for strategy in strategies.values():
        make_plan(strategy, course, default_palette(), ())


@dataclass
class LiveReadings:
    """Steps strategies over a run that is still growing: the very calls of a replay, on the very samples."""

    course: Course
    strategies: Mapping[str, Strategy]
    palette: Palette | None = None
    written: str = ""
    lacking: dict[str, str] = field(default_factory=dict)
    """Strategy -> what it needs and this run does not have (so far), in words; empty: nothing."""
    _runners: dict[str, Runner] = field(default_factory=dict)
    _given: dict[str, int] = field(default_factory=dict)
    _palette: Palette | None = None
    _looks: tuple[Any, ...] | None = None

    def advance(self, table: Table) -> list[tuple[str, Reading]]:
        """(strategy, reading) of every reading that is new."""
        if not table.rows:
            return []
        self._look(table)
        out = []
        for name, runner in self._runners.items():
            if self.lacking.get(name, "-"):
                self.lacking[name] = runner.lacks(table, going=True)
            if not self.lacking[name]:
                runner.advance(table)
                out += [(name, reading) for reading in self._fresh(name)]
        return out

    def finish(self, table: Table) -> list[tuple[str, Reading]]:
        """What is decided at the end of the run."""
        out = self.advance(table)
        for name, runner in self._runners.items():
            self.lacking[name] = self.lacking[name] or runner.lacks(table)
            if not self.lacking[name]:
                runner.finish()
                out += [(name, reading) for reading in self._fresh(name)]
        return out

    def _fresh(self, name: str) -> list[Reading]:
        readings = self._runners[name].readings
        new = readings[self._given.get(name, 0) :]
        self._given[name] = max(self._given.get(name, 0), len(readings))
        return new

    def _look(self, table: Table) -> None:
        """Begin, and begin anew where the built-in palette would be another one by now: a replay would use that one."""
        import numpy as np

        from telemetry.palette_default import full_scale
        from telemetry.replay.header import palette_for, plan_for
        from telemetry.replay.runner import Runner

        tops: tuple[float, ...] = ()
        if not table.ranges:
            raw = [name for name in table.columns if name.split(".")[0] in {"red", "green", "blue"}]
            tops = tuple(full_scale(np.asarray(table.columns[name], dtype=np.float64)) for name in raw)
        looks = (table.colours, tuple(table.ranges.items()), tops) if self.palette is None and not self.written else ()
        if looks == self._looks:
            return
        self._looks = looks
        palette = palette_for(table, self.course, self.palette, self.written)
        if self._palette is not None and _same(palette, self._palette):
            return
        self._palette = palette
        for name, strategy in self.strategies.items():
            self.lacking.pop(name, None)
            self._runners[name] = Runner(plan_for(strategy, self.course, palette, table))


def _same(one: Palette, other: Palette) -> bool:
    from telemetry.palette_file import palette_text

    return palette_text(one) == palette_text(other)


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
        self._path = path
        try:
            self._file: TextIO = path.open("w", encoding="utf-8", newline="\n")
        except OSError as error:
            raise StorageError(
                f"cannot be written: {(error.strerror or str(error)).lower()}", where=str(path), todo="Choose another place"
            ) from error

    def write(self, line: Mapping[str, Any]) -> None:
        """Write and flush."""
        self._file.write(json.dumps(line, ensure_ascii=False) + "\n")
        self._file.flush()

    def close(self) -> None:
        """May be called twice."""
        self._file.close()


class LiveView:
    """Says what is new in a run, in words. ``follower`` keeps samples only where there are ``readings`` to step."""

    def __init__(
        self, follower: Follower, say: Say, readings: LiveReadings | None = None, log: ReadingLog | None = None
    ) -> None:
        self.follower = follower
        self._say = say
        self._readings = readings
        self._log = log
        self._remarks = 0
        self._console = 0
        self._gaps = 0
        self._open_gap = False
        self._silent = False
        self._link_said = False
        self._budget_said = False

    def poll(self) -> None:
        """Take in what is new, without stepping the readings."""
        while self.follower.poll():
            if not self.follower.keeps_samples:
                self._say_console(self.follower.table.console)
        if self.follower.keeps_samples:
            console = self.follower.table.console
            self._say_console(console[self._console :])
            self._console = len(console)

    def step(self) -> None:
        """Step the readings, and say what there is to say."""
        if self._readings is not None:
            self._tell(self._readings.advance(self.follower.table))
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
        from telemetry.report.link_words import Flow, budget_words

        summary, meta = self.follower.summary, self.follower.meta
        lost = 0 if summary.gaps else summary.lost  # those in a gap are no fault of the link's size
        flow = Flow.of(summary.rows, lost, summary.bytes, (summary.last_us - summary.first_us) / 1e6)
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
        if self._readings is not None and self.follower.state == "ended":
            self._tell(self._readings.finish(self.follower.table))
            for strategy, lacking in self._readings.lacking.items():
                if lacking:
                    self._say(f"{strategy} does not apply here: {lacking}")

    def _tell(self, readings: list[tuple[str, Reading]]) -> None:
        assert self._readings is not None
        for strategy, reading in readings:
            line = reading_line(strategy, reading, self._readings.course)
            if self._log is not None:
                self._log.write(line)
            t = "" if reading.t_ms is None else f"{reading.t_ms / 1000:9.2f} s  "
            place = "" if reading.dist_cm is None else f"  at {reading.dist_cm:.1f} cm"
            slot = line["slot"] or "surplus"
            named = f"  [{strategy}]" if len(self._readings.strategies) > 1 else ""
            self._say(f"{t}{_printable(slot)}: {_printable(reading.colour or 'missing')} ({reading.how}){place}{named}")

    def _say_console(self, lines: list[Any]) -> None:
        for line in lines:
            self._say(f"robot: {_printable(line.raw.decode('utf-8', 'replace'))}")


def _printable(text: str) -> str:
    from telemetry.report.table import printable

    return printable(text)
