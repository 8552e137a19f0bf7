"""What is chosen by hand and can be taken back: what was in use before is in use again."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtGui import QUndoCommand, QUndoStack

from gui.model.messages import Messages
from gui.model.selection import Selection
from gui.model.strategy_name import strategy_name
from gui.words import tr


class _Undoable(QUndoCommand):
    """``does`` and ``undoes`` are called by the undo stack; ``text`` names it beside *Undo*."""

    def __init__(self, text: str, does: Callable[[], object], undoes: Callable[[], object]) -> None:
        super().__init__(text)
        self._does, self._undoes = does, undoes

    def redo(self) -> None:
        self._does()

    def undo(self) -> None:
        self._undoes()


class Choices:
    """Choices of course, palette and strategy, each told with a button that takes it back."""

    def __init__(self, selection: Selection, messages: Messages, undo: QUndoStack) -> None:
        self._selection, self._messages, self._undo = selection, messages, undo

    def change(self, text: str, does: Callable[[], object], undoes: Callable[[], object]) -> None:
        """Do what can be taken back, now and by Ctrl+Z."""
        self._undo.push(_Undoable(text, does, undoes))

    def palette(self, path: Path | None) -> bool:
        """Another palette, None: typical colours. False where it cannot be read, which is told."""
        from telemetry.palette_file import read_palette

        use, was = self._selection.use_palette, self._selection.palette_path
        if path == was:
            return True
        if path is not None and self._messages.attempt(lambda: read_palette(path)) is None:
            return False
        self.change(tr("choice of palette"), lambda: use(path), lambda: use(was))
        self._tell(tr("Typical colours") if path is None else path.stem)
        return True

    def strategy(self, name: str) -> None:
        """Another strategy."""
        use, before = self._selection.use_strategy, self._selection.strategy
        if name == before:
            return
        self.change(tr("choice of strategy"), lambda: use(name), lambda: use(before))
        self._tell(strategy_name(name))

    def course(self, use: Callable[[], object], name: str = "") -> bool:
        """Another course, by whatever ``use`` does; False where it cannot be used, which is told. ``name``: else its own."""
        before = self._selection.course_choice
        done = self._messages.attempt(lambda: (use(),))
        if done is None or done[0] is False:
            return False
        after = self._selection.course_choice
        if after != before:
            put = self._selection.choose_course
            self.change(tr("choice of course"), lambda: self._selection.course_choice == after or put(after),
                        lambda: put(before))  # fmt: skip
        self._tell(name or self._selection.course.name)
        return True

    def _tell(self, name: str) -> None:
        words = tr("In use from now on: {name}.", name=name)
        self._messages.tell(words, action=tr("Undo"), does=self._undo.undo, cause="undo")
