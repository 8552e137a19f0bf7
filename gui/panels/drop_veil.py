"""Over the page while something is dragged onto the window: that it can be dropped, and what becomes of it."""

from __future__ import annotations

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QFont, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QWidget

from gui.theme import TITLE_PX, Theme

INSET_PX = 22


class DropVeil(QWidget):
    """``show_over`` covers a widget; it takes no clicks and no focus."""

    def __init__(self, theme: Theme, parent: QWidget) -> None:
        super().__init__(parent)
        self.theme = theme
        self.words = ""
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.hide()

    def show_over(self, words: str) -> None:
        parent = self.parentWidget()
        assert parent is not None
        self.words = words
        self.setAccessibleName(words)
        self.setGeometry(parent.rect())
        self.raise_()
        self.show()

    def paintEvent(self, _event: QPaintEvent) -> None:  # noqa: N802
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        ground = QColor(self.theme.ground)
        ground.setAlphaF(0.88)
        painter.fillRect(self.rect(), ground)
        painter.setPen(QPen(QColor(self.theme.leaf), 3, Qt.PenStyle.DashLine))
        area = QRectF(self.rect()).adjusted(INSET_PX, INSET_PX, -INSET_PX, -INSET_PX)
        painter.drawRoundedRect(area, 14, 14)
        font = QFont(self.font())
        font.setPixelSize(TITLE_PX)
        font.setBold(True)
        painter.setFont(font)
        painter.setPen(QColor(self.theme.ink))
        painter.drawText(area, Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap, self.words)
        painter.end()
