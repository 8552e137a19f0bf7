"""Plays a run: the sample looked at moves on in real time, or faster or slower."""

from __future__ import annotations

import time

from PySide6.QtCore import QObject, Qt, QTimer
from PySide6.QtWidgets import QPushButton

from gui.model.series import TIME
from gui.panels.choice import ChoiceBox
from gui.panels.parts import button, shown_key
from gui.plots.stack import StripStack
from gui.words import tr

PLAY_MS = 16
SPEEDS = (0.1, 0.25, 0.5, 1.0, 2.0, 5.0, 10.0)


class Player(QObject):
    """Moves the cursor of ``stack``. ``button`` and ``speed`` are put where they are wanted."""

    def __init__(self, stack: StripStack, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.stack = stack
        self._timer = QTimer(self)
        self._timer.setTimerType(Qt.TimerType.PreciseTimer)
        self._timer.setInterval(PLAY_MS)
        self._timer.timeout.connect(self._go_on)
        self._from = (0.0, 0.0)
        self.button: QPushButton = button(tr("Play"), self.toggle, key="Space")
        self.button.setCheckable(True)
        self.speed = ChoiceBox(tr("Speed"))
        for speed in SPEEDS:
            self.speed.addItem(f"× {speed:g}", speed)
        self.speed.setCurrentIndex(SPEEDS.index(1.0))
        self.speed.activated.connect(lambda _index: self._mark())

    @property
    def playing(self) -> bool:
        return self._timer.isActive()

    def toggle(self) -> None:
        """Play from the sample looked at (from the start where it is the last), or stop; without samples nothing happens."""
        if not self.stack.series.rows:
            return
        if self.playing:
            self._timer.stop()
        else:
            row = self.stack.cursor_row
            if row < 0 or row >= self.stack.series.rows - 1:
                self.stack.set_cursor(0)
            self._mark()
            self._timer.start()
        self.button.setChecked(self.playing)
        words = tr("Stop") if self.playing else tr("Play")
        self.button.setText(f"{words}   {shown_key('Space')}")
        self.button.setAccessibleName(words)

    def stop(self) -> None:
        self._timer.stop()

    def _mark(self) -> None:
        if self.stack.series.rows:
            self._from = (time.monotonic(), float(self.stack.series.time_s[max(self.stack.cursor_row, 0)]))

    def _go_on(self) -> None:
        clock, start = self._from
        row = self.stack.series.row_at(TIME, start + (time.monotonic() - clock) * float(self.speed.currentData()))
        self.stack.set_cursor(row)
        if row >= self.stack.series.rows - 1:
            self.toggle()
