"""Where one was: the robot that is connected, or the one that was connected last, and the way on from there."""

from __future__ import annotations

from collections import Counter
from datetime import date

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from gui.model.workspace import Workspace
from gui.panels.parts import Card, Label, button, row, set_kind
from gui.words import runs, tr


class ContinueCard(Card):
    """Shown instead of the picture once there is something to go on with. ``wanted`` comes with a place."""

    wanted = Signal(str)

    def __init__(self, workspace: Workspace, parent: QWidget | None = None) -> None:
        super().__init__(parent=parent)
        self.workspace = workspace
        self.big = Label("", "title", wrap=True)
        self.more = Label("", "soft", wrap=True)
        self.go_button = button("", self._go, kind="chief")
        self.runs_button = button(tr("Recorded runs"), lambda: self.wanted.emit("runs"))
        self.end_button = button(tr("Disconnect"), self._end, kind="quiet")
        words = QVBoxLayout()
        words.setSpacing(2)
        words.addWidget(self.big)
        words.addWidget(self.more)
        line = row(self.go_button, self.runs_button, self.end_button)
        both = QHBoxLayout()
        both.addLayout(words, 1)
        both.addLayout(line)
        self.add(both)

    @property
    def has_something(self) -> bool:
        """Whether there is anything to go on with."""
        return self.workspace.follow.connected or bool(self.workspace.shelf.entries) or bool(self.workspace.robots.last)

    def refresh(self) -> None:
        follow, shelf = self.workspace.follow, self.workspace.shelf
        today = [entry for entry in shelf.entries if entry.made[:10] == date.today().isoformat()]  # noqa: DTZ011 (the user's own day)
        said = today_words(Counter(entry.course for entry in today), self.workspace.selection.course.name)
        set_kind(self, "good" if follow.connected else "card")
        self.end_button.setVisible(follow.connected)
        self.runs_button.setVisible(bool(shelf.entries))
        if follow.connected:
            self.big.say(follow.summary())
            self.more.say(said)
            self.go_button.setText(tr("Go on recording"))
        elif self.workspace.robots.last:
            self.big.say(tr("Continue the session") if today else tr("Welcome back"))
            self.more.say(tr("Last robot: {robot}. {said}", robot=self.workspace.robots.last, said=said))
            self.go_button.setText(tr("Connect to {robot}", robot=self.workspace.robots.last))
        else:
            self.big.say(tr("Welcome back"))
            self.more.say(said if today else tr("{runs} in this folder.", runs=runs(len(shelf.entries))))
        self.go_button.setVisible(follow.connected or bool(self.workspace.robots.last))
        self.go_button.setAccessibleName(self.go_button.text())

    def _end(self) -> None:
        self.workspace.follow.disconnect_robot()  # the link is loaded after the first picture, not with this card

    def _go(self) -> None:
        workspace = self.workspace
        if not workspace.follow.connected and not workspace.messages.attempt(
            lambda: workspace.follow.connect_robot(workspace.robots.last)
        ):
            return
        self.wanted.emit("record")


def today_words(counts: Counter[str], in_use: str) -> str:
    """How many runs on which course, each by its own."""
    if not counts:
        return tr("{runs} today on {course}.", runs=runs(0), course=in_use)
    each = [tr("{runs} on {course}", runs=runs(n), course=name or tr("no course")) for name, n in counts.most_common()]
    return tr("Today: {runs}.", runs=", ".join(each))
