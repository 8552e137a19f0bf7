"""What the program has to say to the user: one sentence at a time, with what to do about it, gone when its cause is gone."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

from PySide6.QtCore import QObject, Signal

from telemetry.errors import SidelongError

Result = TypeVar("Result")


@dataclass(frozen=True, slots=True)
class Message:
    """``kind``: good, warn or bad. ``action``: the label of a button that does ``does``. ``cause``: a word by which the
    message is dropped once what it is about is over.
    """

    text: str
    kind: str = "good"
    action: str = ""
    does: Callable[[], object] | None = None
    cause: str = ""


class Messages(QObject):
    """``current`` is what is shown now, None: nothing."""

    changed = Signal()

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.current: Message | None = None

    def tell(
        self,
        text: str,
        kind: str = "good",
        *,
        action: str = "",
        does: Callable[[], object] | None = None,
        cause: str = "",
    ) -> None:
        """Say this, in place of what was said before."""
        self._show(Message(text, kind, action, does, cause))

    def attempt(self, work: Callable[[], Result]) -> Result | None:
        """Do ``work``; what goes wrong is told in its one sentence, and None comes back."""
        try:
            return work()
        except SidelongError as error:
            self.tell(str(error), "bad")
        except OSError as error:
            where = f"{error.filename}: " if error.filename else ""
            self.tell(f"{where}{(error.strerror or str(error)).lower()}", "bad")
        return None

    def drop(self, cause: str) -> None:
        """What was said because of ``cause`` holds no longer."""
        if self.current is not None and self.current.cause == cause:
            self._show(None)

    def pass_by(self) -> None:
        """The user goes on: good news is over, what is wrong waits."""
        if self.current is not None and self.current.kind == "good":
            self._show(None)

    def clear(self) -> None:
        """The user has read it."""
        self._show(None)

    def act(self) -> None:
        """The user takes up what is offered."""
        message = self.current
        self._show(None)
        if message is not None and message.does is not None:
            message.does()

    def _show(self, message: Message | None) -> None:
        self.current = message
        self.changed.emit()
