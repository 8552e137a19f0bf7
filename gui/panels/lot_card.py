"""The next layout to set up, drawn by lot, and how evenly layouts have been practised so far."""

from __future__ import annotations

from PySide6.QtWidgets import QProgressBar, QWidget

from gui.model.lot import Lot
from gui.panels.parts import Card, Label, button, row
from gui.plots.course_map import CourseMap, SlotState
from gui.theme import Theme
from gui.words import tr
from telemetry.course.lot import evenness


class LotCard(Card):
    """Shows the layout on the course. There is one layout: wherever it is shown, it is the same."""

    def __init__(self, lot: Lot, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(tr("Next layout"), parent=parent)
        self.head.addWidget(Label(tr("random"), "chip"))
        self.lot, self.course = lot, lot.course
        self.map = CourseMap(lot.course, lot.book, theme)
        self.map.setMinimumHeight(210)
        self.bar = QProgressBar()
        self.bar.setMinimumWidth(60)
        self.bar.setToolTip(tr("Colour-slot combinations that were practised"))
        self.bar.setAccessibleName(tr("Combinations covered"))
        self.again = button(tr("New layout"), lot.draw, key="Ctrl+L")
        self.add(self.map, stretch=1)
        self.add(row(Label(tr("Combinations of slot and colour practised"), "small", wrap=True)))
        self.add(row(self.bar, self.again))
        lot.changed.connect(self._show)
        self._show()

    def set_theme(self, theme: Theme) -> None:
        self.map.set_theme(theme)

    def _show(self) -> None:
        lot = self.lot
        if self.course is not lot.course:
            self.course = lot.course
            self.map.book = lot.book
            self.map.set_course(lot.course)
        self.map.set_states([SlotState(colour) for colour in lot.layout])
        done, of = evenness(lot.course, lot.practised)
        self.bar.setMaximum(max(of, 1))
        self.bar.setValue(done)
        self.bar.setFormat(tr("{done} of {of}", done=done, of=of))
