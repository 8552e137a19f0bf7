"""What has the focus is seen: WCAG 2.2, criterion 2.4.11, focus not obscured."""

from __future__ import annotations

from typing import Final

from PySide6.QtCore import QEvent, QObject, Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QApplication, QScrollArea, QWidget

from gui.theme import GAP_PX

ENOUGH_PX: Final = 24
"""So much of something high is enough to see that it has the focus."""
COMMANDS: Final = Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier | Qt.KeyboardModifier.MetaModifier
GO_ELSEWHERE: Final = {
    Qt.Key.Key_Tab, Qt.Key.Key_Backtab, Qt.Key.Key_Escape, Qt.Key.Key_Shift, Qt.Key.Key_Control, Qt.Key.Key_Alt,
    Qt.Key.Key_AltGr, Qt.Key.Key_Meta, Qt.Key.Key_CapsLock, *(Qt.Key(Qt.Key.Key_F1 + number) for number in range(12)),
}  # fmt: skip
"""Keys that are not meant for what has the focus."""


def in_sight(widget: QWidget) -> bool:
    """Whether enough of it is seen. A plot that has no height of its own says -1 for it."""
    wanted = widget.sizeHint().height()
    enough = min(ENOUGH_PX, widget.height(), wanted if wanted > 0 else ENOUGH_PX)
    return widget.visibleRegion().boundingRect().height() >= max(enough, 1)


def bring_into_view(widget: QWidget) -> None:
    """Scroll the frames around to what has just got the focus."""
    within = widget.parentWidget()
    while within is not None:
        if isinstance(within, QScrollArea):
            within.ensureWidgetVisible(widget, 0, GAP_PX)
        within = within.parentWidget()


class BackInSight(QObject):
    """Filters the keys of a window: who has scrolled away from what has the focus sees it again when typing goes on."""

    def eventFilter(self, what: QObject, event: QEvent) -> bool:  # noqa: N802
        if isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyPress:
            focus = QApplication.focusWidget()
            meant = not event.modifiers() & COMMANDS and event.key() not in GO_ELSEWHERE
            if meant and focus is not None and not in_sight(focus):
                bring_into_view(focus)
        return super().eventFilter(what, event)
