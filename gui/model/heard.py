"""The robot that lines came from last: it is offered again, which a mistyped port is not."""

from __future__ import annotations

from collections.abc import Callable

from gui.model.messages import Messages
from gui.model.robots import Robots
from gui.model.watch import Watch
from gui.words import tr

Connects = Callable[[], bool]


class Heard:
    """``note`` while lines come; ``way_back`` when the link is lost."""

    def __init__(self, robots: Robots, messages: Messages) -> None:
        self._robots, self._messages = robots, messages
        self._last: tuple[str, Connects] | None = None

    def note(self, watch: Watch | None, connects: Connects | None) -> None:
        """Lines have come from it; ``connects`` to it again."""
        if watch is None or connects is None or (self._last is not None and self._last[1] is connects):
            return
        self._last = watch.title, connects
        if not watch.simulated:
            self._robots.note(watch.source)

    def way_back(self, connects: Connects | None, again: Callable[[], object]) -> tuple[str, Callable[[], object]]:
        """What to offer, and what does it: ``again`` to the robot that was lost, or back to the one that was heard before.

        ``connects`` to the one that was lost, None where that cannot be done again.
        """
        if connects is None:
            return "", again
        if self._last is not None and self._last[1] is not connects:
            robot, back = self._last
            return tr("Back to {robot}", robot=robot), lambda: self._messages.attempt(back)
        return tr("Try again") if self._last is None else tr("Reconnect"), again
