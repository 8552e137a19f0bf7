"""The main thing and a column of cards beside it; in a narrow window the cards go below it, and both scroll as one."""

from __future__ import annotations

from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QApplication, QHBoxLayout, QVBoxLayout, QWidget

from gui.in_sight import in_sight
from gui.panels.key_host import usable
from gui.panels.parts import scrolled
from gui.theme import GAP_PX

BAR_PX = 14


class SideBySide(QWidget):
    """``side`` is at least ``side_px`` wide; below ``narrow_px`` in all it goes under ``main``."""

    def __init__(self, main: QWidget, side: QWidget, side_px: int, narrow_px: int, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.side, self._narrow_px = side, narrow_px
        self.below = False
        holder = QWidget()
        self._column = QVBoxLayout(holder)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(GAP_PX)
        self._column.addWidget(main, 1)
        self.left, self.right = scrolled(holder), scrolled(side)
        self.right.setFixedWidth(max(side_px, side.minimumSizeHint().width() + BAR_PX))
        line = QHBoxLayout(self)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(GAP_PX)
        line.addWidget(self.left, 1)
        line.addWidget(self.right)

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        super().resizeEvent(event)
        self._lay_out(self.width() < self._narrow_px)

    def show_in_view(self, card: QWidget) -> None:
        """Scroll to a card of the side column, wherever this is. It has the focus where that was scrolled out of sight."""
        (self.left if self.below else self.right).ensureWidgetVisible(card, 0, 0)
        focus = QApplication.focusWidget()
        if focus is None or not self.isAncestorOf(focus) or in_sight(focus):
            return
        able = (one for one in (card, *card.findChildren(QWidget)) if usable(one, self) and in_sight(one))
        if (first := next(able, None)) is not None:
            first.setFocus()

    def _lay_out(self, below: bool) -> None:
        if below == self.below:
            return
        self.below = below
        if below:
            self.right.takeWidget()
            self._column.addWidget(self.side)
            self.side.show()
        else:
            self._column.removeWidget(self.side)
            self.right.setWidget(self.side)
        self.right.setVisible(not below)
