"""A calibration or a re-check in progress: what is still to be held under the sensor, what was captured, what follows."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer, Signal

from gui.words import tr
from telemetry.calibrate.build import build_palette
from telemetry.calibrate.capture import StillCapture, still_capture
from telemetry.calibrate.files import table_from_text
from telemetry.calibrate.guided import CaptureStep, steps_for
from telemetry.calibrate.recheck import Recheck, recheck
from telemetry.errors import LinkError
from telemetry.live.tail import tail
from telemetry.palette_file import write_palette

if TYPE_CHECKING:
    from gui.model.follow import Follow
    from gui.model.messages import Messages
    from gui.model.selection import Selection
    from telemetry.palette import Palette

TAKE_S = 2.0
TICK_MS = 50
RECHECKED = 3
"""So many colours are enough for a re-check: the empty field and two others."""


class Calibration(QObject):
    """``steps`` in order, ``captures`` by step. ``learning``: a new palette; else the one in use is checked."""

    changed = Signal()
    progressed = Signal(float)
    """The share of the capture in progress that is done."""

    def __init__(self, selection: Selection, follow: Follow, messages: Messages, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._selection, self._follow, self._messages = selection, follow, messages
        self.learning = True
        self.kept = False
        """Whether what was captured is kept as a palette already."""
        self.steps: list[CaptureStep] = []
        self.captures: dict[CaptureStep, StillCapture] = {}
        self.at = 0
        self._from_row = 0
        self._begun = 0.0
        self._simulated_takes = 0
        self._timer = QTimer(self)
        self._timer.setInterval(TICK_MS)
        self._timer.timeout.connect(self._tick)
        selection.palette_changed.connect(self._palette_changed)
        self.begin(selection.course.colours)

    @property
    def step(self) -> CaptureStep | None:
        """What to do now; None when all is captured."""
        return self.steps[self.at] if self.at < len(self.steps) else None

    @property
    def complete(self) -> bool:
        """Whether every step has its capture."""
        return all(step in self.captures for step in self.steps)

    @property
    def captured(self) -> int:
        """How many steps have a capture."""
        return sum(step in self.captures for step in self.steps)

    @property
    def doubts(self) -> tuple[str, ...]:
        """Why the step that is asked for now is to be captured again."""
        shown = self.captures.get(self.step) if self.step is not None else None
        return tuple(shown.doubts) if shown is not None else ()

    @property
    def taking(self) -> bool:
        return self._timer.isActive()

    @property
    def sensor(self) -> str:
        return self._selection.course.sensors[0].name

    def begin(self, colours: Sequence[str], heights_mm: Sequence[float] = ()) -> None:
        """A new palette of these colours and the empty field."""
        self.learning = True
        self._start(steps_for(["none", *(colour for colour in colours if colour != "none")], heights_mm))

    def begin_recheck(self) -> None:
        """Check the palette in use with a few of its colours. Nothing happens where none is in use."""
        palette = self._selection.palette
        if palette is None:
            return
        self.learning = False
        here = {"none", *self._selection.course.colours}
        names = sorted(palette.names, key=lambda name: (name != "none", name not in here))  # what lies on this field first
        self._start(steps_for(names[:RECHECKED]))

    def _palette_changed(self) -> None:
        """What was captured to check another palette says nothing of this one."""
        if not self.learning:
            self.begin(self._selection.course.colours)

    def _start(self, steps: list[CaptureStep]) -> None:
        self._timer.stop()
        self.steps, self.captures, self.at, self.kept = steps, {}, 0, False
        self.changed.emit()

    def go_to(self, at: int) -> None:
        """Take this one (again)."""
        if not self.taking and 0 <= at < len(self.steps):
            self.at = at
            self.changed.emit()

    # -- taking -------------------------------------------------------------------------------------------------------

    def take(self) -> None:
        """Capture what the sensor sees for two seconds. Raises LinkError where no robot is connected."""
        step = self.step
        if step is None or self.taking:
            return
        follow = self._follow
        if not follow.connected or follow.run is None:
            raise LinkError(tr("no robot is connected"), todo=tr("Choose one under Start."))
        self._from_row = follow.run.table.stop
        self._begun = time.monotonic()
        self._timer.start()
        self.changed.emit()

    def _tick(self) -> None:
        done = (time.monotonic() - self._begun) / TAKE_S
        self.progressed.emit(min(done, 1.0))
        if done < 1.0:
            return
        self._timer.stop()
        step = self.step
        assert step is not None
        capture = self._messages.attempt(lambda: self._captured(step))
        if capture is not None:
            self.captures[step] = capture
            self.kept = False
            if not capture.doubts:
                self._on()
            answer = self._messages.attempt(self.checked)
            if answer is not None:
                self._selection.note_recheck(answer)
        self.changed.emit()

    def _on(self) -> None:
        """To the next step that has no capture yet."""
        order = [*range(self.at + 1, len(self.steps)), *range(self.at)]
        self.at = next((place for place in order if self.steps[place] not in self.captures), len(self.steps))

    def _captured(self, step: CaptureStep) -> StillCapture:
        follow = self._follow
        if follow.watch is not None and follow.watch.simulated:
            return self._simulated(step)
        if follow.run is None:
            raise LinkError(tr("the robot went away while it was captured"), todo=tr("Connect it and take it again."))
        table = tail(follow.run.table, self._from_row)
        where = follow.watch.source if follow.watch is not None else ""
        return still_capture(step.colour, table, sensor=self.sensor, height_mm=step.height_mm, where=where)

    def _simulated(self, step: CaptureStep) -> StillCapture:
        """The built-in robot cannot be held by hand: it is put over the colour in the light of its day.

        It stands on its wheels, at one place: height and light vary along the way that it drives, not from one capture to
        the next. Else a re-check would find a change where there is none.
        """
        from telemetry.sources.synthetic.levels import LEVELS
        from telemetry.sources.synthetic.run import simulate_still

        watch = self._follow.watch
        assert watch is not None
        self._simulated_takes += 1
        seed = watch.seed + self._simulated_takes
        standing = replace(LEVELS[watch.level].physics, height_ripple=0.0, ambient_unevenness=0.0)
        still = simulate_still(step.colour, watch.level, seed, day=watch.seed, physics=standing, seconds=TAKE_S)
        table = table_from_text(still.data, tr("simulated robot"))
        return still_capture(step.colour, table, height_mm=step.height_mm, where=tr("simulated robot"))

    # -- results ------------------------------------------------------------------------------------------------------

    def palette(self, name: str = "palette") -> Palette | None:
        """The palette of what was captured so far; None with fewer than two colours. Raises PaletteError."""
        if len({capture.colour for capture in self.captures.values()}) < 2:
            return None
        captures = [self.captures[step] for step in self.steps if step in self.captures]
        made = datetime.now().astimezone().strftime("%Y-%m-%d %H:%M")
        labels = self._selection.labels()
        captured_at = any(capture.height_mm for capture in captures)
        tall = f"{labels.height_mm:g} mm" if labels.height_mm and not captured_at else ""
        simulated = tr("simulated") if self._follow.simulated else ""
        return build_palette(captures, name, ", ".join(filter(None, (made, labels.light, tall, simulated))))

    def checked(self) -> Recheck | None:
        """The answer of a re-check; None before the last capture: one surface alone says little. Raises PaletteError."""
        palette = self._selection.palette
        if self.learning or palette is None or not self.complete:
            return None
        return recheck(palette, list(self.captures.values()))

    def keep(self, path: Path) -> None:
        """Write the palette and use it from now on. Raises SidelongError."""
        palette = self.palette(path.stem)
        if palette is not None:
            write_palette(palette, path)
            self.kept = True
            self._selection.use_palette(path)

    def stop(self) -> None:
        self._timer.stop()


def step_words(step: CaptureStep) -> str:
    """What to hold under the sensor now, for the user."""
    what = tr("the empty field (none)") if step.colour == "none" else step.colour
    if step.height_mm is not None:
        return tr("Hold the sensor still over {what}, {height:g} mm above it.", what=what, height=step.height_mm)
    return tr("Hold the sensor still over {what}.", what=what)
