"""The verdict on a run in large words, and below it side by side: the cause, what to do, who would have read it."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QVBoxLayout, QWidget

from gui.model.answer import Answer
from gui.panels.parts import Label, button, set_kind
from gui.panels.tall import Tall
from gui.theme import GAP_PX
from gui.words import tr

NARROW_PX = 600
SIGNS = {"good": "✓", "bad": "✗", "warn": "–"}


class AnswerBand(Tall):
    """``wanted`` comes with what the remedy's button is to do; it is one of Answer.action."""

    wanted = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.answer: Answer | None = None
        self.sign = Label("", "verdict")
        self.headline = Label("", "verdict", wrap=True)
        self.action = button("", self._act)
        self.parts = {name: (Label(title, "eyebrow"), Label("", wrap=True)) for name, title in (
            ("cause", tr("Cause")), ("remedy", tr("What to do")), ("others", tr("Who would have read it")))}  # fmt: skip
        column = QVBoxLayout(self)
        column.setContentsMargins(GAP_PX + 4, GAP_PX - 2, GAP_PX + 4, GAP_PX)
        column.setSpacing(6)
        self.top = QHBoxLayout()
        """Which run it is, and buttons: put there by whoever shows the band."""
        self.top.setSpacing(10)
        column.addLayout(self.top)
        head = QHBoxLayout()
        head.setSpacing(10)
        head.addWidget(self.sign, 0, Qt.AlignmentFlag.AlignTop)
        head.addWidget(self.headline, 1)
        self.head = head
        column.addLayout(head)
        self.grid = QGridLayout()
        self.grid.setHorizontalSpacing(GAP_PX * 2)
        self.grid.setVerticalSpacing(0)
        column.addLayout(self.grid)
        for _title, words in self.parts.values():
            words.setAlignment(Qt.AlignmentFlag.AlignTop)
        self._narrow: bool | None = None
        self._lay_out(narrow=False)
        self.wait()

    def _lay_out(self, *, narrow: bool) -> None:
        """Cause, remedy and readers side by side; one below the other where the band is narrow."""
        if narrow == self._narrow:
            return
        self._narrow = narrow
        for place, (title, words) in enumerate(self.parts.values()):
            self.grid.addWidget(title, 2 * place if narrow else 0, 0 if narrow else place)
            self.grid.addWidget(words, 2 * place + 1 if narrow else 1, 0 if narrow else place)
        if narrow:
            self.grid.addWidget(self.action, 6, 0, Qt.AlignmentFlag.AlignLeft)
        else:
            self.head.addWidget(self.action, 0, Qt.AlignmentFlag.AlignTop)
        self._share()

    def _share(self) -> None:
        """Equal parts of the width for what says something."""
        for place, (_title, words) in enumerate(self.parts.values()):
            used = place == 0 if self._narrow else bool(words.text())
            self.grid.setColumnStretch(place, 1 if used else 0)

    def wait(self) -> None:
        """Nothing is known yet."""
        self._show(Answer("warn", tr("Reading the run with every strategy …"), ""), sign="…")
        self.answer = None

    def show_answer(self, answer: Answer) -> None:
        self._show(answer, sign=SIGNS[answer.kind])

    def _show(self, answer: Answer, sign: str) -> None:
        self.answer = answer
        set_kind(self, answer.kind)
        self.sign.say(sign)
        self.headline.say(answer.headline)
        for name, (title, words) in self.parts.items():
            text = getattr(answer, name)
            words.say(text)
            for label in (title, words):
                label.setVisible(bool(text))
        self._share()
        actions = {"decide": tr("Compare strategies"), "colours": tr("Re-check colours"), "truth": tr("Enter colours")}
        self.action.setVisible(answer.action in actions)
        self.action.setText(actions.get(answer.action, ""))
        self.action.setAccessibleName(self.action.text())
        told = (
            answer.headline,
            *(f"{title.text()}: {words.text()}" for title, words in self.parts.values() if words.text()),
        )
        self.setAccessibleName(" ".join(told))
        self.fit()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        self._lay_out(narrow=self.width() < NARROW_PX)
        super().resizeEvent(event)

    def _act(self) -> None:
        if self.answer is not None and self.answer.action:
            self.wanted.emit(self.answer.action)
