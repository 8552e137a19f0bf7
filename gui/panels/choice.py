"""What is chosen, ticked and set by hand: Qt's own, made to be seen in both themes and safe to scroll past."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPen, QWheelEvent
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QSizePolicy,
    QSlider,
    QSpinBox,
    QStyledItemDelegate,
    QStyleOptionComboBox,
    QWidget,
)

from gui.plain_text import tip

MOST_SHOWN = 16
BESIDE_PX = 68
"""Margins and the arrow."""


class ChoiceBox(QComboBox):
    """As Qt's, but the style sheet's flat frame keeps its arrow."""

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._said = ""
        self.setAccessibleName(name)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        self.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToContents)
        self.setMaxVisibleItems(MOST_SHOWN)
        self.setItemDelegate(QStyledItemDelegate(self))  # which heeds the style sheet's height of a line
        self.currentTextChanged.connect(self._say_whole)

    def _say_whole(self, words: str) -> None:
        """What is cut short is said in full where the pointer rests, unless something better is said there."""
        if not self.toolTip() or self.toolTip() == self._said:
            self._said = tip(words)
            self.setToolTip(self._said)

    def wheelEvent(self, event: QWheelEvent) -> None:  # noqa: N802
        """Whoever scrolls the page past it chooses nothing."""
        event.ignore()

    def initStyleOption(self, option: QStyleOptionComboBox) -> None:  # noqa: N802
        """What has no room is cut short by three dots, not in the midst of a letter."""
        super().initStyleOption(option)
        room = self.width() - BESIDE_PX
        option.currentText = option.fontMetrics.elidedText(option.currentText, Qt.TextElideMode.ElideRight, room)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        super().paintEvent(event)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(self.palette().text().color(), 1.8, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
        middle = QPointF(self.width() - 16, self.height() / 2 + 2)
        painter.drawLine(middle + QPointF(-4.5, -4.5), middle)
        painter.drawLine(middle, middle + QPointF(4.5, -4.5))
        painter.end()


class NumberBox(QSpinBox):
    """As Qt's, but the wheel scrolls the page and changes no number."""

    def wheelEvent(self, event: QWheelEvent) -> None:  # noqa: N802
        event.ignore()


class Slide(QSlider):
    """Likewise."""

    def wheelEvent(self, event: QWheelEvent) -> None:  # noqa: N802
        event.ignore()


class Tick(QCheckBox):
    """As Qt's, with a box and a tick that can be seen in both themes."""

    def __init__(self, text: str, parent: QWidget | None = None) -> None:
        super().__init__(text, parent)
        self.setSizePolicy(QSizePolicy.Policy.Minimum, QSizePolicy.Policy.Fixed)
        self.setCursor(Qt.CursorShape.PointingHandCursor)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        super().paintEvent(event)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        area = QRectF(2, self.height() / 2 - 8.5, 17, 17)
        ink = self.palette().text().color()
        painter.setPen(QPen(self.palette().highlight().color() if self.hasFocus() else ink, 2 if self.hasFocus() else 1.2))
        painter.setBrush(self.palette().base())
        painter.drawRoundedRect(area, 4, 4)
        if self.isChecked():
            painter.setPen(QPen(ink, 2.2, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap, Qt.PenJoinStyle.RoundJoin))
            painter.drawPolyline(
                [area.topLeft() + QPointF(4, 9), area.topLeft() + QPointF(7.5, 12.5), area.topLeft() + QPointF(13, 5)]
            )
        painter.end()
