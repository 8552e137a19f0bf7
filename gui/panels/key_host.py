"""One policy for keys: a letter is always text. What a page does by key has Ctrl or a function key, or is a bare key below.

- Ctrl+letter and function keys act while the page is in view, wherever the focus is.
- Space, Return, Escape, Delete and the like go to what has the focus first, and to the page where that has no use for them.
- Return presses the button that has the focus, and ends a field; it never does both, nor anything else then.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final, NamedTuple

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent, QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QAbstractSpinBox,
    QApplication,
    QComboBox,
    QLineEdit,
    QPlainTextEdit,
    QWidget,
)

BARE: Final = {
    Qt.Key.Key_Space: "Space", Qt.Key.Key_Return: "Return", Qt.Key.Key_Enter: "Return", Qt.Key.Key_Escape: "Escape",
    Qt.Key.Key_Delete: "Delete", Qt.Key.Key_Backspace: "Backspace",
}  # fmt: skip
ENDED_BY_RETURN: Final = (QLineEdit, QAbstractSpinBox, QPlainTextEdit, QComboBox, QAbstractItemView)
"""Return means something to these themselves."""


class Key(NamedTuple):
    """One line of the sheet of keys. ``does`` is None where what has the focus does it by itself."""

    key: str
    words: str
    does: Callable[[], object] | None = None


class KeyHost(QWidget):
    """A page, or what takes its place: ``set_keys`` says once what works there, and the sheet of keys shows just that."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._keys: list[Key] = []
        self._bare: dict[str, Callable[[], object]] = {}

    def set_keys(self, *keys: Key) -> None:
        """Raises ValueError for a key that would be text."""
        for key in keys:
            if key.does is None:
                continue
            if key.key in BARE.values():
                self._bare[key.key] = key.does
            elif len(key.key.split("+")[-1]) == 1 and "Ctrl" not in key.key:
                raise ValueError(f"'{key.key}' is text, not a command")
            else:
                made = QShortcut(QKeySequence(key.key), self)
                made.setContext(Qt.ShortcutContext.WindowShortcut)
                made.activated.connect(key.does)
        self._keys.extend(keys)

    def keys(self) -> list[Key]:
        """For the sheet of keys."""
        return self._keys

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802
        """A key that what has the focus had no use for."""
        name = BARE.get(Qt.Key(event.key())) if not event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier else None
        focus = QApplication.focusWidget()
        if name == "Return" and isinstance(focus, QAbstractButton):
            focus.click()
        elif name == "Return" and isinstance(focus, ENDED_BY_RETURN):
            pass
        elif name in self._bare:
            self._bare[name]()
        else:
            super().keyPressEvent(event)


def usable(widget: QWidget | None, inside: QWidget) -> bool:
    """Whether ``widget`` could have the focus inside a page that is being shown."""
    if widget is None or not inside.isAncestorOf(widget) or widget.focusPolicy() == Qt.FocusPolicy.NoFocus:
        return False
    return widget.isEnabled() and widget.isVisibleTo(inside)
