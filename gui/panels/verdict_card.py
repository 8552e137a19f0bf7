"""The verdict on one run: who read it right, slot by slot what one of them read, and why."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QBoxLayout, QVBoxLayout, QWidget

from gui.model.answer import answer
from gui.model.verdicts import RunResults
from gui.panels.answer_band import AnswerBand
from gui.panels.flow import FlowLayout
from gui.panels.parts import Card, Label, button
from gui.panels.readings_list import ReadingsList
from gui.panels.verdict_table import VerdictTable, cause_words
from gui.swatches import SwatchBook
from gui.theme import GAP_PX, Theme
from gui.words import tr
from telemetry.course import Course

NARROW_PX, LEAST_TABLE_PX = 520, 160


class VerdictCard(Card):
    """``open_wanted`` comes with the strategy that is looked at, ``next_wanted`` and ``compare_wanted`` with nothing."""

    open_wanted = Signal(str)
    next_wanted = Signal()
    compare_wanted = Signal()
    wanted = Signal(str)
    """What the remedy's button is to do."""

    def __init__(self, course: Course, book: SwatchBook, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(tr("Verdict"), parent=parent)
        self.run_name = Label("", "chip")
        self.head.addWidget(self.run_name)
        self.verdict: RunResults | None = None
        self.shown = ""
        """The strategy that is looked at."""
        self._book = book
        self.band = AnswerBand()
        self.band.wanted.connect(self.wanted)
        self.readings = ReadingsList(course, book, theme)
        self.table = VerdictTable()
        self.table.chosen.connect(self.look_at)
        self.why = Label("", wrap=True)
        left = QVBoxLayout()
        left.addWidget(self.readings)
        left.addWidget(self.why)
        left.addStretch(1)
        inside = self._inside = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        inside.setSpacing(GAP_PX * 2)
        self.table.setMinimumHeight(LEAST_TABLE_PX)
        inside.addLayout(left, 2)
        inside.addWidget(self.table, 3)
        hint = tr("See at which sample it went wrong")
        open_button = button(tr("Open this run"), lambda: self.open_wanted.emit(self.shown), hint=hint)
        self.next_button = button(tr("Next run"), self.next_wanted.emit, kind="chief", key="Return")
        self.head.addWidget(self.next_button)
        compare_button = button(tr("Compare all runs"), self.compare_wanted.emit, kind="quiet")
        self.add(self.band)
        self.add(inside, stretch=1)
        self.add(FlowLayout(open_button, compare_button))

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        """Where the two have no room side by side the table goes below."""
        super().resizeEvent(event)
        across, down = QBoxLayout.Direction.LeftToRight, QBoxLayout.Direction.TopToBottom
        self._inside.setDirection(down if self.width() < NARROW_PX else across)

    def wait(self) -> None:
        """The run is being read: there is no verdict to act on."""
        self.verdict = None
        self.band.wait()

    def show_verdict(self, verdict: RunResults, strategy: str) -> None:
        """The whole of it, with ``strategy`` looked at first."""
        self.verdict = verdict
        self.run_name.say(verdict.path.stem)
        self.band.show_answer(answer(verdict, strategy))
        self.table.show_verdict(verdict, strategy)
        self.look_at(self.band.answer.subject if self.band.answer is not None else strategy)
        self.table.choose(self.shown)

    def look_at(self, strategy: str) -> None:
        """What this strategy read, and why where it was wrong."""
        self.shown = strategy
        result = self.verdict.by_strategy.get(strategy) if self.verdict is not None else None
        if self.verdict is None or result is None or self.verdict.recording.course is None:
            return
        self.readings.set_course(self.verdict.recording.course, self._book)
        self.readings.show_readings(result.taken, self.verdict.recording.truth)
        cause = cause_words(result.verdict)
        self.why.say("\n".join([*result.why, *([cause] if cause else [])]))

    def set_course(self, course: Course, book: SwatchBook) -> None:
        self._book = book
        self.readings.set_course(course, book)

    def set_theme(self, theme: Theme) -> None:
        self.readings.set_theme(theme)
