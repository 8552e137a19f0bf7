"""The headline of Decide: what to use, with one button to use it and one to put it on the robot."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QBoxLayout, QVBoxLayout, QWidget

from gui.model.recommendation import Recommendation
from gui.panels.parts import Label, button, row, set_kind
from gui.panels.tall import Tall
from gui.words import tr

SIDE_PX = 100
"""Sign, margins and gaps."""
SIGNS = {"good": "✓", "warn": "!", "bad": "✗"}


class RecommendationCard(Tall):
    """``use_wanted`` comes with the strategy that is recommended, ``robot_wanted`` with nothing."""

    use_wanted = Signal(str)
    robot_wanted = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._line = QBoxLayout(QBoxLayout.Direction.TopToBottom, self)
        self._line.setContentsMargins(16, 10, 16, 10)
        self.shown: Recommendation | None = None
        self.sign = Label("", "large")
        self.words = Label("", "large", wrap=True)
        self.use_button = button("", lambda: self.use_wanted.emit(self.shown.strategy if self.shown else ""))
        self.when = Label("", "small", wrap=True)
        hint = tr("Writes the reading logic as a program for the robot, with a check that both read alike")
        self.robot_button = button(tr("Put on the robot…"), self.robot_wanted.emit, hint=hint)
        line = row(self.sign, self.words, spacing=10)
        line.setStretch(1, 1)
        told = QVBoxLayout()
        told.setSpacing(2)
        told.addLayout(line)
        told.addWidget(self.when)
        self._line.addLayout(told, 1)
        self._line.addLayout(row(self.use_button, self.robot_button, None))
        self.wait()

    def wait(self) -> None:
        self.show_recommendation(Recommendation(tr("Replaying the runs …"), "warn"))

    def show_recommendation(self, what: Recommendation) -> None:
        self.shown = what
        set_kind(self, what.kind)
        self.sign.say(SIGNS[what.kind])
        self.words.say(what.headline)
        self.when.say(what.when)
        self.when.setVisible(bool(what.when))
        self.use_button.setVisible(bool(what.strategy))
        self.use_button.setText(tr("Use {name}", name=what.strategy))
        self.use_button.setAccessibleName(self.use_button.text())
        self.setAccessibleName(" ".join(one for one in (what.headline, what.when) if one))
        self._lay_out()

    def _lay_out(self) -> None:
        """The buttons stand beside the words where these keep a line of their own."""
        buttons = sum(one.sizeHint().width() for one in (self.use_button, self.robot_button) if not one.isHidden())
        beside = self.words.fontMetrics().horizontalAdvance(self.words.text()) + buttons + SIDE_PX <= self.width()
        across, down = QBoxLayout.Direction.LeftToRight, QBoxLayout.Direction.TopToBottom
        self._line.setDirection(across if beside else down)
        self.fit()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        super().resizeEvent(event)
        self._lay_out()
