"""A robot that is connected and says nothing at all: told once, and dropped as soon as it speaks."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from gui.words import tr

if TYPE_CHECKING:
    from gui.model.live_run import LiveRun
    from gui.model.messages import Messages
    from gui.model.watch import Watch

AFTER_S = 5.0
CAUSE = "nothing yet"


class NothingYet:
    """``look`` now and then at the run that is followed; ``over`` when it is disconnected."""

    def __init__(self, messages: Messages) -> None:
        self._messages = messages
        self._told: LiveRun | None = None

    def look(self, run: LiveRun, watch: Watch, disconnect: Callable[[], object]) -> None:
        """Tell it where not a byte has come for a while."""
        if run.follower.summary.bytes:
            self.over()
        elif run is not self._told and run.silence_s >= AFTER_S:
            self._told = run
            words = tr("Nothing has come from {robot} yet. Is it switched on, and does its program run?", robot=watch.title)
            if watch.by_wire:
                words += " " + tr("Another program may hold the port, or another port may be the right one.")
            self._messages.tell(words, "warn", action=tr("Disconnect"), does=disconnect, cause=CAUSE)

    def over(self) -> None:
        self._messages.drop(CAUSE)
