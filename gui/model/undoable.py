"""A choice that can be taken back: what was in use before is in use again."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtGui import QUndoCommand


class Undoable(QUndoCommand):
    """``does`` and ``undoes`` are called by the undo stack; ``text`` names it beside *Undo*."""

    def __init__(self, text: str, does: Callable[[], object], undoes: Callable[[], object]) -> None:
        super().__init__(text)
        self._does, self._undoes = does, undoes

    def redo(self) -> None:
        self._does()

    def undo(self) -> None:
        self._undoes()
