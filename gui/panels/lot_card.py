"""The next layout to set up, drawn by lot, and how evenly layouts have been practised so far."""

from __future__ import annotations

import random
from collections.abc import Sequence

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QProgressBar, QWidget

from gui.panels.parts import Card, Label, button, row
from gui.plots.course_map import CourseMap, SlotState
from gui.swatches import SwatchBook
from gui.theme import Theme
from gui.words import tr
from telemetry.course import Course, Truth
from telemetry.course.lot import draw_layout, evenness


class LotCard(Card):
    """Shows the layout on the course. ``layout`` is what the next run is expected to have; None after 'set up otherwise'."""

    drawn = Signal()

    def __init__(self, course: Course, book: SwatchBook, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(tr("Next layout"), parent=parent)
        self.head.addWidget(Label(tr("random"), "chip"))
        self.course = course
        self.layout_drawn: Truth | None = None
        self.practised: list[Truth] = []
        self._lot = random.Random()
        self.map = CourseMap(course, book, theme)
        self.map.setMinimumHeight(210)
        self.bar = QProgressBar()
        self.bar.setMinimumWidth(60)
        self.bar.setToolTip(tr("Colour-slot combinations that were practised"))
        self.bar.setAccessibleName(tr("Combinations covered"))
        self.again = button(tr("New layout"), self.draw, key="Ctrl+L")
        self.add(self.map, stretch=1)
        self.add(row(Label(tr("Combinations of slot and colour practised"), "small", wrap=True)))
        self.add(row(self.bar, self.again))
        self.draw()

    def set_course(self, course: Course, book: SwatchBook) -> None:
        self.course = course
        self.map.book = book
        self.map.set_course(course)
        self.draw()

    def set_theme(self, theme: Theme) -> None:
        self.map.set_theme(theme)

    def show_practice(self, practised: Sequence[Truth]) -> None:
        """What stood there in the runs so far. The layout shown stays as it is."""
        self.practised = [truth for truth in practised if len(truth) == len(self.course.slots)]
        done, of = evenness(self.course, self.practised)
        self.bar.setMaximum(max(of, 1))
        self.bar.setValue(done)
        self.bar.setFormat(tr("{done} of {of}", done=done, of=of))

    def draw(self) -> None:
        self.layout_drawn = draw_layout(self.course, self.practised, self._lot)
        self.map.set_states([SlotState(colour) for colour in self.layout_drawn])
        self.show_practice(self.practised)
        self.drawn.emit()
