"""What arrives: the robot's lines as they come, what their columns look like, and what becomes of them once named."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QCloseEvent
from PySide6.QtWidgets import QDialog, QGridLayout, QPlainTextEdit, QVBoxLayout, QWidget

from gui.model.arriving import Arriving, preview
from gui.model.column_guess import KNOWN, named
from gui.panels.choice import ChoiceBox
from gui.panels.file_dialogs import fit_to_screen
from gui.panels.parts import Card, Label, button, row, scrolled, set_kind
from gui.words import tr
from telemetry.errors import SidelongError

TICK_MS, SHOWN_LINES, GUESS_FROM = 250, 6, 20
LEAST_LINES = 3
"""So many are seen at once on the smallest screen."""
WIDE_PX, HIGH_PX = 720, 620


class ArrivingDialog(QDialog):
    """``chosen`` comes with the columns' names as one text; nothing is changed before that."""

    chosen = Signal(str)

    def __init__(self, journal: Path, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.arriving = Arriving(journal)
        self.choices: list[ChoiceBox] = []
        self._values: list[Label] = []
        self._touched = False
        """A name was chosen by hand: the guess does not change it any more."""
        self.setWindowTitle(tr("What arrives"))
        fit_to_screen(self, WIDE_PX, HIGH_PX)
        self.state = Card()
        self.words = Label("", "large", wrap=True)
        self.todo = Label("", wrap=True)
        self.state.add(self.words, self.todo)
        self.text = QPlainTextEdit()
        self.text.setReadOnly(True)
        self.text.setTabChangesFocus(True)
        self.text.setAccessibleName(tr("The last lines as they came"))
        self.text.setLineWrapMode(QPlainTextEdit.LineWrapMode.NoWrap)
        self.text.setMinimumHeight(LEAST_LINES * self.text.fontMetrics().lineSpacing() + 22)
        self._holder = QWidget()
        self.grid = QGridLayout(self._holder)
        self.grid.setColumnStretch(2, 1)
        self.preview_words = Label("", wrap=True)
        self.again_button = button(tr("Guess again"), self.guess_anew, kind="quiet")
        self.use_button = button(tr("Use these columns"), self.use, kind="chief")
        column = QVBoxLayout(self)
        column.addWidget(self.state)
        self._choosing = scrolled(self._holder)
        column.addWidget(self.text, 1)
        column.addWidget(self._choosing, 2)
        column.addWidget(self.preview_words)
        column.addLayout(row(self.again_button, None, button(tr("Close"), self.close), self.use_button))
        self._timer = QTimer(self)
        self._timer.setInterval(TICK_MS)
        self._timer.timeout.connect(self.look)
        self._timer.start()
        self.look()

    def look(self) -> None:
        """Take in what has come since, and show it."""
        try:
            some = self.arriving.poll()
        except SidelongError as error:
            self._timer.stop()
            self._say(str(error), "", "bad")
            return
        if some or not self.words.text():
            self._show()

    def _show(self) -> None:
        arriving = self.arriving
        self._choosing.setVisible(not arriving.header)
        if not arriving.count:
            if arriving.bytes:
                self._say(tr("{n} bytes arrive, but no line of text.", n=arriving.bytes),
                          tr("Is the baud rate right? It is chosen beside Connect under Start."), "bad")  # fmt: skip
            else:
                self._say(tr("Nothing has arrived yet."), tr("Is the robot's program running? Does it print lines?"), "warn")
        elif arriving.header:
            self._say(tr("✓ The robot names its columns itself: {names}", names=arriving.header.replace(",", ", ")),
                      tr("There is nothing to choose here."), "good")  # fmt: skip
        elif not arriving.newest():
            self._say(tr("Text arrives, but no numbers yet."), tr("A sample is one line of numbers: 1020, 52, 12.8"), "warn")
        else:
            self._say(tr("Numbers arrive without names. Which column is what?"),
                      tr("Move the robot by hand over a colour: what changes is recognised best."), "warn")  # fmt: skip
        self.text.setPlainText("\n".join(arriving.texts[-SHOWN_LINES:]))
        named_by_robot = bool(arriving.header) or not arriving.newest()
        for one in (self._holder, self.again_button, self.use_button):
            one.setVisible(not named_by_robot)
        if not named_by_robot:
            self._show_columns()
        self._show_preview()

    def _say(self, words: str, todo: str, kind: str) -> None:
        set_kind(self.state, kind)
        self.words.say(words)
        self.todo.say(todo)
        self.todo.setVisible(bool(todo))

    def _show_columns(self) -> None:
        newest = self.arriving.newest()
        if len(newest) != len(self.choices):
            self._build(len(newest))
            self._touched = False
        for label, value in zip(self._values, newest, strict=True):
            label.say(value)
        if not self._touched and self.arriving.count <= GUESS_FROM * len(newest):
            self.guess_anew()

    def _build(self, count: int) -> None:
        while (item := self.grid.takeAt(0)) is not None:
            if (widget := item.widget()) is not None:
                widget.deleteLater()
        self.choices, self._values = [], []
        for place in range(count):
            value, why = Label("", "large"), Label("", "small", wrap=True)
            choice = ChoiceBox(tr("Column {n}", n=place + 1))
            choice.setEditable(True)
            choice.addItem(tr("(keep as column {n})", n=place + 1), "")
            for name in KNOWN:
                choice.addItem(name, name)
            choice.setMinimumContentsLength(14)
            choice.activated.connect(lambda _index: self._touch())
            line_edit = choice.lineEdit()
            if line_edit is not None:
                line_edit.textEdited.connect(lambda _text: self._touch())
            value.setMinimumWidth(90)
            value.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
            for at, widget in enumerate((value, choice, why)):
                self.grid.addWidget(widget, place, at)
            self.choices.append(choice)
            self._values.append(value)

    def _touch(self) -> None:
        self._touched = True
        self._show_preview()

    def guess_anew(self) -> None:
        """The names that the lines so far suggest, in place of those chosen."""
        for place, guess in enumerate(self.arriving.guess()):
            if place < len(self.choices):
                choice = self.choices[place]
                choice.setCurrentIndex(max(choice.findData(guess.name), 0))
                item = self.grid.itemAtPosition(place, 2)
                why = item.widget() if item is not None else None
                if isinstance(why, Label):
                    why.say(guess.why)
        self._touched = False
        self._show_preview()

    @property
    def columns(self) -> str:
        """The names chosen, as one text."""
        names = []
        for choice in self.choices:
            at = choice.findText(choice.currentText())
            names.append(str(choice.itemData(at)) if at >= 0 else choice.currentText())
        return named(names)

    def _show_preview(self) -> None:
        columns = self.arriving.header or (self.columns if self.choices else "")
        if not columns:
            self.preview_words.say("")
            self.use_button.setEnabled(False)
            return
        seen = preview(columns, self.arriving.texts)
        words = tr("Understood: {some} of the last {all} lines.", some=seen.understood, all=seen.lines)
        now = "   ".join(f"{name} {value}" for name, value in seen.latest)
        self.preview_words.say(seen.problem or f"{words} {tr('Now: {now}', now=now) if now else ''}".strip())
        self.use_button.setEnabled(not seen.problem and seen.understood > 0)

    def use(self) -> None:
        """These names from now on."""
        columns = self.columns
        self.close()  # first: whoever listens connects anew, and nothing may hold the old journal then
        self.chosen.emit(columns)

    def closeEvent(self, event: QCloseEvent) -> None:  # noqa: N802
        self._timer.stop()
        self.arriving.close()
        super().closeEvent(event)
