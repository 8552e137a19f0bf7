"""Where one was: the robot that is connected, or the one that was connected last, and the way on from there."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from datetime import date
from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout

from gui.model.messages import Messages
from gui.model.robots import Robots
from gui.model.selection import Selection
from gui.panels.flow import FlowLayout
from gui.panels.parts import Card, Label, button, set_kind
from gui.words import runs, tr

if TYPE_CHECKING:
    from gui.model.follow import Follow
    from gui.model.shelf import Shelf


class ContinueCard(Card):
    """Shown instead of the picture once there is something to go on with. ``wanted`` comes with a place.

    ``follow`` and ``shelf`` are asked for when they are needed: link and runs are loaded after the first picture.
    """

    wanted = Signal(str)

    def __init__(
        self, robots: Robots, selection: Selection, messages: Messages,
        follow: Callable[[], Follow], shelf: Callable[[], Shelf],
    ) -> None:  # fmt: skip
        super().__init__()
        self.robots, self.selection, self.messages, self.follow, self.shelf = robots, selection, messages, follow, shelf
        self.big = Label("", "title", wrap=True)
        self.more = Label("", "soft", wrap=True)
        self.go_button = button("", self._go, kind="chief")
        self.runs_button = button(tr("Recorded runs"), lambda: self.wanted.emit("runs"))
        self.end_button = button(tr("Disconnect"), self._end, kind="quiet")
        words = QVBoxLayout()
        words.setSpacing(2)
        words.addWidget(self.big)
        words.addWidget(self.more)
        line = FlowLayout(self.go_button, self.runs_button, self.end_button)
        both = QHBoxLayout()
        both.addLayout(words, 1)
        both.addLayout(line, 1)
        self.add(both)

    @property
    def has_something(self) -> bool:
        """Whether there is anything to go on with."""
        return self.follow().connected or bool(self.shelf().entries) or bool(self.robots.last)

    def refresh(self) -> None:
        follow, shelf = self.follow(), self.shelf()
        today = [entry for entry in shelf.entries if entry.made[:10] == date.today().isoformat()]  # noqa: DTZ011 (the user's own day)
        said = today_words(Counter(entry.course for entry in today), self.selection.course.name)
        set_kind(self, "good" if follow.connected else "card")
        self.end_button.setVisible(follow.connected)
        self.runs_button.setVisible(bool(shelf.entries))
        if follow.connected:
            self.big.say(follow.summary())
            self.more.say(said)
            self.go_button.setText(tr("Go on recording"))
        elif self.robots.last:
            self.big.say(tr("Continue the session") if today else tr("Welcome back"))
            self.more.say(tr("Last robot: {robot}. {said}", robot=self.robots.last, said=said))
            self.go_button.setText(tr("Connect to {robot}", robot=self.robots.last))
        else:
            self.big.say(tr("Welcome back"))
            self.more.say(said if today else tr("{runs} in this folder.", runs=runs(len(shelf.entries))))
        self.go_button.setVisible(follow.connected or bool(self.robots.last))
        self.go_button.setAccessibleName(self.go_button.text())

    def _end(self) -> None:
        self.follow().disconnect_robot()

    def _go(self) -> None:
        follow = self.follow()
        if not follow.connected and not self.messages.attempt(lambda: follow.connect_robot(self.robots.last)):
            return
        self.wanted.emit("record")


def today_words(counts: Counter[str], in_use: str) -> str:
    """How many runs on which course, each by its own."""
    if not counts:
        return tr("{runs} today on {course}.", runs=runs(0), course=in_use)
    each = [tr("{runs} on {course}", runs=runs(n), course=name or tr("no course")) for name, n in counts.most_common()]
    return tr("Today: {runs}.", runs=", ".join(each))
