"""A list that folds out, with a sign that it does."""

from __future__ import annotations

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QComboBox, QSizePolicy, QWidget


class Choice(QComboBox):
    """As Qt's, but the style sheet's flat frame keeps its arrow."""

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName(name)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        self.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToContents)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        super().paintEvent(event)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(self.palette().text().color(), 1.8, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
        middle = QPointF(self.width() - 16, self.height() / 2 + 2)
        painter.drawLine(middle + QPointF(-4.5, -4.5), middle)
        painter.drawLine(middle, middle + QPointF(4.5, -4.5))
        painter.end()
