"""What each stage of a strategy said at one sample: from what the sensor reported to what was taken."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from gui.swatches import SwatchBook, paint_swatch
from gui.theme import Theme
from gui.words import tr

STEP_PX = 118


class StagesAt(QWidget):
    """A row of small boxes with arrows between them; one that stays silent is drawn hollow."""

    def __init__(self, book: SwatchBook, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.book = book
        self.theme = theme
        self.steps: list[tuple[str, str]] = []
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def sizeHint(self) -> QSize:  # noqa: N802
        return QSize(300, 46)

    def minimumSizeHint(self) -> QSize:  # noqa: N802
        return QSize(120, 46)

    def set_theme(self, theme: Theme) -> None:
        self.theme = theme
        self.update()

    def show_steps(self, steps: Sequence[tuple[str, str]]) -> None:
        """(stage, what it said) in order."""
        if list(steps) == self.steps:
            return
        self.steps = list(steps)
        self.setAccessibleName(tr("Stage by stage"))
        self.setAccessibleDescription("; ".join(f"{stage}: {word}" for stage, word in self.steps))
        self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:  # noqa: N802
        if not self.steps:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        theme = self.theme
        small, plain = QFont(self.font()), QFont(self.font())
        small.setPixelSize(12)
        plain.setPixelSize(13)
        wide = min(STEP_PX, self.width() / len(self.steps))
        for number, (stage, word) in enumerate(self.steps):
            left = number * wide
            silent = word == tr("nothing")
            painter.setFont(small)
            painter.setPen(QColor(theme.soft))
            painter.drawText(QRectF(left + 2, 0, wide - 16, 16), Qt.AlignmentFlag.AlignLeft, stage)
            area = QRectF(left + 2, 20, 21, 21)
            if silent:
                painter.setPen(QPen(QColor(theme.soft), 1, Qt.PenStyle.DashLine))
                painter.setBrush(Qt.BrushStyle.NoBrush)
                painter.drawRoundedRect(area, 5, 5)
            else:
                paint_swatch(painter, area, self.book.of(word), radius=5)
            painter.setFont(plain)
            painter.setPen(QColor(theme.soft if silent else theme.ink))
            painter.drawText(QRectF(left + 28, 20, wide - 42, 21), Qt.AlignmentFlag.AlignVCenter, word)
            if number + 1 < len(self.steps):
                painter.setPen(QPen(QColor(theme.soft), 1.5))
                tip = QPointF(left + wide - 5, 30)
                painter.drawLine(tip + QPointF(-7, 0), tip)
                painter.drawLine(tip + QPointF(-4, -3.5), tip)
                painter.drawLine(tip + QPointF(-4, 3.5), tip)
        painter.end()
