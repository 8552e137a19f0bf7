"""The first time a robot is connected: whether its lines are understood is said once, with the way to name its columns."""

from __future__ import annotations

from PySide6.QtCore import QObject, Signal

from gui.model.follow import Follow
from gui.model.messages import Messages
from gui.model.robots import Robots
from gui.words import tr

ENOUGH_LINES = 20


class FirstConnection(QObject):
    """``not_understood``: lines come, and none becomes a sample. Asked once a connection."""

    not_understood = Signal()

    def __init__(self, follow: Follow, robots: Robots, messages: Messages, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._follow, self._robots, self._messages = follow, robots, messages
        self._told = True
        follow.begun.connect(self._begin)
        follow.state_changed.connect(self._look)

    def _begin(self) -> None:
        self._told = False

    def _look(self) -> None:
        follow, run = self._follow, self._follow.run
        if self._told or run is None or not follow.connected:
            return
        summary = run.follower.summary
        if summary.rows >= ENOUGH_LINES:
            self._told = True
            address = follow.watch.source if follow.watch is not None else ""
            if follow.simulated or self._robots.is_known(address):
                return
            self._robots.know(address)
            names = [name for name in run.table.columns if name not in ("arrival_us", "boot")]
            names = [{"t_us": "t"}.get(name, name) for name in names]
            self._messages.tell(tr("First connection: its lines are understood ({names}).", names=", ".join(names)),
                                action=tr("What arrives…"), does=self.not_understood.emit, cause="link")  # fmt: skip
        elif not summary.rows and summary.rejected + summary.console >= ENOUGH_LINES:
            self._told = True
            self._messages.tell(tr("Lines arrive, but none is understood as a sample."), "warn",
                                action=tr("Name the columns…"), does=self.not_understood.emit, cause="link")  # fmt: skip
            self.not_understood.emit()
