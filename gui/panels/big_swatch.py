"""What the sensor looks at right now, large enough to be read from across the field."""

from __future__ import annotations

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QFont, QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from gui.swatches import SwatchBook, paint_swatch
from gui.theme import Theme
from gui.words import tr


class BigSwatch(QWidget):
    """One sensor's colour: the swatch with its letter, the name beside it, a line of detail below the name."""

    def __init__(self, book: SwatchBook, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.book = book
        self.theme = theme
        self.colour: str | None = None
        self.sensor = ""
        self.detail = ""
        self.place = ""
        self.setMinimumHeight(96)
        self.setMaximumHeight(140)
        self.setMinimumWidth(250)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        self.show_colour(None, "", "")

    def show_colour(self, colour: str | None, sensor: str, detail: str, place: str = "") -> None:
        """``colour`` None: the sensor says nothing. ``place``: what is under it. Paints only where something has changed."""
        if (colour, sensor, detail, place) == (self.colour, self.sensor, self.detail, self.place) and self.accessibleName():
            return
        self.colour, self.sensor, self.detail, self.place = colour, sensor, detail, place
        seen = colour or tr("nothing yet")
        self.setAccessibleName(tr("Sensor {sensor} sees {colour}", sensor=sensor, colour=seen).replace("  ", " "))
        self.update()

    def set_theme(self, theme: Theme) -> None:
        self.theme = theme
        self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:  # noqa: N802
        painter = QPainter(self)
        side = min(self.height() - 4.0, self.width() * 0.42)
        area = QRectF(2, (self.height() - side) / 2, side, side)
        paint_swatch(painter, area, self.book.of(self.colour or "none"), radius=14)
        left = area.right() + 18
        room = self.width() - left
        font = QFont(self.font())
        font.setPixelSize(13)
        painter.setFont(font)
        painter.setPen(QColor(self.theme.soft))
        above = tr("sensor {name}", name=self.sensor) if self.sensor else tr("the sensor sees")
        above = f"{above}, {self.place}" if self.place else above
        painter.drawText(QRectF(left, area.top() + 2, room, 20), Qt.AlignmentFlag.AlignLeft, above)
        font.setPixelSize(34)
        font.setBold(True)
        painter.setFont(font)
        painter.setPen(QColor(self.theme.ink))
        painter.drawText(QRectF(left, area.center().y() - 24, room, 46), Qt.AlignmentFlag.AlignVCenter, self.colour or "–")
        font.setPixelSize(13)
        font.setBold(False)
        painter.setFont(font)
        painter.setPen(QColor(self.theme.soft))
        painter.drawText(QRectF(left, area.bottom() - 22, room, 20), Qt.AlignmentFlag.AlignLeft, self.detail)
        painter.end()
