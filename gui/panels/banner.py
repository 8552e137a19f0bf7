"""The picture on the start page: a row of trees, a lane, and a small cart that looks sideways."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from gui.icons import paint_orchard
from gui.theme import LARGE_PX, RADIUS_PX, TITLE_PX, Theme
from gui.words import tr
from telemetry.report.fills import FILLS


class Banner(QWidget):
    """Says in two lines what the program is for; the picture is the job itself."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.theme = theme
        self.setFixedHeight(128)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.headline = tr("See what the sensor sees")
        self.line = tr("Know why a run was misread. Decide which reading logic to trust.")
        self.setAccessibleName(f"{self.headline}. {self.line}")

    def set_theme(self, theme: Theme) -> None:
        self.theme = theme
        self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:  # noqa: N802
        theme = self.theme
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(theme.leaf_wash))
        painter.drawRoundedRect(QRectF(self.rect()), RADIUS_PX, RADIUS_PX)
        wide = min(460.0, self.width() * 0.42)
        left = self.width() - wide - 28
        paint_orchard(painter, QRectF(left, 18, wide, 66), leaf=theme.leaf, trunk=theme.rust, ground=theme.soft, trees=6)
        self._paint_lane(painter, left, wide)
        font = QFont(self.font())
        font.setPixelSize(TITLE_PX + 2)
        font.setBold(True)
        painter.setFont(font)
        painter.setPen(QColor(theme.ink))
        painter.drawText(QPointF(28, 62), self.headline)
        font.setPixelSize(LARGE_PX - 3)
        font.setBold(False)
        painter.setFont(font)
        painter.setPen(QColor(theme.ink))
        area = QRectF(28, 76, left - 48, 52)
        painter.drawText(
            area, int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop | Qt.TextFlag.TextWordWrap), self.line
        )
        painter.end()

    def _paint_lane(self, painter: QPainter, left: float, wide: float) -> None:
        """Markers along the lane, and the cart with its sensor looking at one of them."""
        theme = self.theme
        painter.setPen(Qt.PenStyle.NoPen)
        for number, name in enumerate(("rust", "leaf", "sky", "orange", "pink")):
            painter.setBrush(QColor(FILLS[name]))
            painter.drawRoundedRect(QRectF(left + wide * (0.1 + 0.18 * number), 88, 18, 10), 3, 3)
        painter.setPen(QPen(QColor(theme.soft), 1.5, Qt.PenStyle.DashLine))
        painter.drawLine(QPointF(left, 118), QPointF(left + wide, 118))
        cart = left + wide * 0.46
        painter.setPen(Qt.PenStyle.NoPen)
        beam = QColor(FILLS["sky"])
        beam.setAlphaF(0.55)
        painter.setBrush(beam)
        painter.drawPolygon([QPointF(cart + 6, 108), QPointF(cart - 2, 97), QPointF(cart + 18, 97)])
        painter.setBrush(QColor(theme.ink))
        painter.drawRoundedRect(QRectF(cart - 14, 106, 40, 14), 4, 4)
        painter.setBrush(QColor(theme.soft))
        painter.drawEllipse(QPointF(cart - 6, 121), 5, 5)
        painter.drawEllipse(QPointF(cart + 18, 121), 5, 5)
