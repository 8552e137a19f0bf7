"""The next layout to set up: one for all pages, drawn by lot on the course in use, and what was practised on it so far."""

from __future__ import annotations

import random

from PySide6.QtCore import QObject, Signal

from gui.model.selection import Selection
from gui.model.shelf import Shelf
from gui.swatches import SwatchBook
from telemetry.course import Course, Truth
from telemetry.course.lot import draw_layout


class Lot(QObject):
    """``layout``: what the next run is expected to have. It stays until another is drawn or the course changes."""

    changed = Signal()
    """Another layout, or other runs."""

    def __init__(self, selection: Selection, shelf: Shelf, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._selection, self._shelf = selection, shelf
        self._random = random.Random()
        self.layout: Truth = ()
        self.draw()
        selection.course_changed.connect(self.draw)
        shelf.changed.connect(self.changed)

    @property
    def course(self) -> Course:
        return self._selection.course

    @property
    def book(self) -> SwatchBook:
        """Letters and patterns of its colours."""
        return self._selection.book

    @property
    def practised(self) -> list[Truth]:
        """What stood there in the runs on this course so far."""
        course = self.course
        truths = [entry.truth for entry in self._shelf.entries if entry.course == course.name and entry.truth]
        return [truth for truth in truths if len(truth) == len(course.slots)]

    def draw(self) -> None:
        """Another one."""
        self.layout = draw_layout(self.course, self.practised, self._random)
        self.changed.emit()
