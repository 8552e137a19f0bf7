"""'What stood there?': tap a slot, tap a colour; or type the colours' letters one after the other."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QIcon, QKeyEvent
from PySide6.QtWidgets import (
    QAbstractButton,
    QApplication,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from gui.panels.flow import FlowLayout
from gui.panels.parts import Label, button, row
from gui.plots.course_map import CourseMap, SlotState
from gui.swatches import SwatchBook, swatch_pixmap
from gui.theme import Theme
from gui.words import tr
from telemetry.course import EMPTY, Course, Truth
from telemetry.course.truth import check_truth
from telemetry.errors import TruthError

RETURNS = (Qt.Key.Key_Return, Qt.Key.Key_Enter)


class TruthPicker(QWidget):
    """Fills in one colour a slot. ``confirmed`` comes with a truth that fits the course."""

    confirmed = Signal(object)
    skipped = Signal()

    def __init__(self, course: Course, book: SwatchBook, theme: Theme, *, key: str = "Return") -> None:
        super().__init__()
        self._before: list[list[str | None]] = []
        """What was filled in, before each change: to be taken back."""
        self._typed_here = False
        """Whether Ctrl+Z is about what is filled in here: something was typed or tapped since it was asked for."""
        self.course = course
        self.book = book
        self.colours: list[str | None] = [None] * len(course.slots)
        self._begun = list(self.colours)
        self._moved = False
        """A slot was chosen by hand since the last one was filled."""
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        self.map = CourseMap(course, book, theme, choosing=True)
        self.map.setMinimumHeight(210)
        self.map.colour_typed.connect(self._typed)
        self.map.slot_tapped.connect(lambda _slot: self._went())
        self.map.stepped.connect(self._went)
        column.addWidget(self.map, 1)
        self.buttons = FlowLayout(spacing_px=6)
        self.colour_buttons: dict[str, QPushButton] = {}
        column.addLayout(self.buttons)
        self.words = Label("", "soft", wrap=True)
        # Room for two lines: what is tapped must not move when the words get longer.
        self.words.setMinimumHeight(2 * self.words.fontMetrics().lineSpacing() + 4)
        self.words.setAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop)
        column.addWidget(self.words)
        self.confirm_button = button(tr("Save"), self.confirm, kind="chief", key=key)
        self.skip_button = button(
            tr("Not now"), self.skipped.emit, kind="quiet", hint=tr("You can enter it later under Runs")
        )
        self.clear_button = button(tr("Clear"), self.clear, kind="quiet")
        column.addLayout(row(self.confirm_button, self.skip_button, None, self.clear_button))
        self._make_buttons()
        self._show()

    def set_course(self, course: Course, book: SwatchBook) -> None:
        self.course, self.book = course, book
        self.colours = [None] * len(course.slots)
        self._begun = list(self.colours)
        self._forget()
        self.map.book = book
        self.map.set_course(course)
        self.map.choose(0)
        self._make_buttons()
        self._show()

    def set_theme(self, theme: Theme) -> None:
        self.map.set_theme(theme)

    def _make_buttons(self) -> None:
        while self.buttons.count():
            item = self.buttons.takeAt(0)
            widget = item.widget() if item is not None else None
            if widget is not None:
                widget.deleteLater()
        self.colour_buttons = {}
        ratio = self.devicePixelRatioF()
        names = [*self.course.colours, *([EMPTY] if any(slot.empty_ok for slot in self.course.slots) else [])]
        for name in names:
            made = QPushButton(name)
            made.setIcon(QIcon(swatch_pixmap(self.book.of(name), 24, 24, ratio)))
            made.setIconSize(QSize(24, 24))
            made.setAccessibleName(tr("Put {colour} there", colour=name))
            made.clicked.connect(lambda _checked=False, name=name: self._tapped(name))
            self.buttons.addWidget(made)
            self.colour_buttons[name] = made

    def start(self, truth: Truth | None, why: str = "") -> None:
        """Begin with what is expected (or nothing); ``why``: where that comes from."""
        if truth is not None and len(truth) != len(self.course.slots):
            truth, why = None, tr("The colours in the file do not fit this course. Enter them again.")
        self.colours = list(truth) if truth is not None else [None] * len(self.course.slots)
        self._begun = list(self.colours)
        self._forget()
        self.map.choose(0)
        self._show(why)

    def clear(self) -> None:
        self._note()
        self.colours = [None] * len(self.course.slots)
        self.map.choose(0)
        self._show()

    def _forget(self) -> None:
        self._before, self._typed_here = [], False

    def _note(self) -> None:
        """Something is changed: what there was can be had back."""
        self._before.append(list(self.colours))
        self._typed_here = True

    def take_back(self) -> bool:
        """The last change in here; where there is none, that is said. False: nothing was typed here, undo something else."""
        if not self._typed_here:
            return False
        if not self._before:
            self._show(tr("Nothing is filled in here that could be taken back."))
            return True
        self.colours = self._before.pop()
        self.map.choose(self.colours.index(None) if None in self.colours else self.map.chosen)
        self._show()
        return True

    @property
    def edited(self) -> bool:
        """Whether something else is filled in now than it was begun with."""
        return self.colours != self._begun

    def _tapped(self, colour: str) -> None:
        """Return confirms then, and does not tap the same colour once more."""
        self.put(self.map.chosen, colour)
        self.map.setFocus()

    def _typed(self, slot: int, colour: str) -> None:
        """By letter: once all slots are filled, typing on changes nothing until a slot is chosen by hand."""
        if not self._all_filled():
            self.put(slot, colour)
            self._moved = False
        elif self._moved:
            self.put(slot, colour)
            self._moved = slot + 1 < len(self.colours)
            self.map.choose(min(slot + 1, len(self.colours) - 1))
            self._show()

    def _all_filled(self) -> bool:
        return None not in self.colours

    def _went(self) -> None:
        """A slot was chosen by hand."""
        self._moved = True
        self._show()

    def put(self, slot: int, colour: str) -> None:
        """A colour into a slot; the next open slot is chosen then."""
        self._note()
        self.colours[slot] = colour
        order = [*range(slot + 1, len(self.colours)), *range(slot)]
        self.map.choose(next((place for place in order if self.colours[place] is None), slot))
        self._show()

    def _show(self, why: str = "") -> None:
        self.map.set_states([SlotState(colour) for colour in self.colours])
        problem = self.problem()
        chosen = self.course.slots[self.map.chosen]
        complete = tr("All entered. Save them, or choose a slot to change it.")
        self.words.say(why or problem or complete)
        self.confirm_button.setEnabled(not problem)
        allowed = set(self.course.groups[chosen.group].colours) | ({EMPTY} if chosen.empty_ok else set())
        for name, made in self.colour_buttons.items():
            made.setEnabled(name in allowed)

    def problem(self) -> str:
        """Why this is no truth yet, in one sentence; empty where it is one."""
        still_open = sum(colour is None for colour in self.colours)
        if still_open:
            slot = self.course.slots[self.colours.index(None)].name
            return tr("{count} to enter, {slot} next. Type a letter, or tap a colour.", count=still_open, slot=slot)
        try:
            check_truth(tuple(colour or EMPTY for colour in self.colours), self.course, self.course.name)
        except TruthError as error:
            return str(error)
        return ""

    def confirm(self) -> None:
        if not self.problem():
            self._forget()
            self.confirmed.emit(tuple(self.colours))

    def take(self, event: QKeyEvent) -> bool:
        """A letter or Backspace that was typed elsewhere on the page; True: it was meant for here, and is done with."""
        if event.modifiers() & ~(Qt.KeyboardModifier.ShiftModifier | Qt.KeyboardModifier.KeypadModifier):
            return False
        if event.key() in (Qt.Key.Key_Backspace, Qt.Key.Key_Delete):
            self.step_back()
        elif self.map.means_a_colour(event):
            self.map.setFocus()
            self.map.keyPressEvent(event)
        elif event.text().isalpha() and self.map.hasFocus():
            self._typed_here = True
            there = ", ".join(f"{self.book.of(name).letter} {name}" for name in self.colour_buttons)
            self._show(tr("{letter} is no colour here. There are: {letters}.", letter=event.text().upper(), letters=there))
        else:
            return False
        return True

    def step_back(self) -> None:
        """Empty the slot looked at, or where it is empty already the one before it."""
        self._note()
        if self.colours[self.map.chosen] is None and self.map.chosen > 0:
            self.map.choose(self.map.chosen - 1)
        self.colours[self.map.chosen] = None
        self._show()

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802
        focus = QApplication.focusWidget()
        if event.key() in RETURNS and not isinstance(focus, QAbstractButton):
            self.confirm()
        elif not self.take(event):
            super().keyPressEvent(event)
