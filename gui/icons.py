"""The signs of the places and of the row of trees, drawn with a few lines each: no picture files, any size, any colour."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPen


def _start(painter: QPainter) -> None:
    """A gate."""
    painter.drawLine(QPointF(4, 20), QPointF(4, 6))
    painter.drawLine(QPointF(20, 20), QPointF(20, 6))
    painter.drawLine(QPointF(4, 9), QPointF(20, 9))
    painter.drawLine(QPointF(4, 14.5), QPointF(20, 14.5))
    painter.drawLine(QPointF(12, 9), QPointF(12, 20))


def _live(painter: QPainter) -> None:
    """A trace that ends in a dot."""
    path = QPainterPath(QPointF(3, 15))
    path.cubicTo(QPointF(7, 2), QPointF(9, 22), QPointF(13, 13))
    path.quadTo(QPointF(15, 8.5), QPointF(18, 9))
    painter.drawPath(path)
    painter.setBrush(painter.pen().color())
    painter.drawEllipse(QPointF(19, 9), 2, 2)


def _record(painter: QPainter) -> None:
    painter.drawEllipse(QPointF(12, 12), 8.5, 8.5)
    painter.setBrush(painter.pen().color())
    painter.drawEllipse(QPointF(12, 12), 3.6, 3.6)


def _colours(painter: QPainter) -> None:
    """Three patches."""
    painter.drawRoundedRect(QRectF(3, 4, 8, 8), 2, 2)
    painter.drawRoundedRect(QRectF(13, 4, 8, 8), 2, 2)
    painter.setBrush(painter.pen().color())
    painter.drawRoundedRect(QRectF(8, 14, 8, 7), 2, 2)


def _runs(painter: QPainter) -> None:
    """A shelf of runs."""
    for y in (6, 12, 18):
        painter.drawLine(QPointF(9, y), QPointF(21, y))
        painter.drawEllipse(QPointF(4.5, y), 1.4, 1.4)


def _decide(painter: QPainter) -> None:
    """A grid with one cell filled."""
    painter.drawRoundedRect(QRectF(3.5, 3.5, 17, 17), 3, 3)
    painter.drawLine(QPointF(3.5, 9.2), QPointF(20.5, 9.2))
    painter.drawLine(QPointF(3.5, 14.8), QPointF(20.5, 14.8))
    painter.drawLine(QPointF(9.2, 3.5), QPointF(9.2, 20.5))
    painter.drawLine(QPointF(14.8, 3.5), QPointF(14.8, 20.5))
    painter.setBrush(painter.pen().color())
    painter.drawRect(QRectF(10.4, 10.4, 3.2, 3.2))


def _course(painter: QPainter) -> None:
    """A way with a turn, and two markers beside it."""
    painter.drawPolyline([QPointF(4, 20), QPointF(14, 20), QPointF(14, 4)])
    painter.setBrush(painter.pen().color())
    painter.drawRoundedRect(QRectF(6, 13, 4, 4), 1, 1)
    painter.drawRoundedRect(QRectF(17, 8, 4, 4), 1, 1)


def _match(painter: QPainter) -> None:
    """A flag."""
    painter.drawLine(QPointF(6, 21), QPointF(6, 3))
    painter.setBrush(painter.pen().color())
    painter.drawPolygon([QPointF(6, 4), QPointF(19, 7.5), QPointF(6, 12)])


SIGNS: dict[str, Callable[[QPainter], None]] = {
    "start": _start,
    "live": _live,
    "record": _record,
    "colours": _colours,
    "runs": _runs,
    "decide": _decide,
    "course": _course,
    "match": _match,
}


def paint_sign(painter: QPainter, name: str, area: QRectF, colour: str) -> None:
    """Paint a place's sign into ``area``."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.translate(area.topLeft())
    painter.scale(area.width() / 24, area.height() / 24)
    painter.setPen(QPen(QColor(colour), 1.8, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap, Qt.PenJoinStyle.RoundJoin))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    SIGNS[name](painter)
    painter.restore()


def paint_orchard(painter: QPainter, area: QRectF, *, leaf: str, trunk: str, ground: str, trees: int = 5) -> None:
    """A row of trees on a line, one of them with a coloured fruit: the sign of the whole program."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    pitch = area.width() / trees
    crown = min(pitch * 0.42, area.height() * 0.36)
    foot = area.bottom() - 2
    painter.setPen(QPen(QColor(ground), 2, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
    painter.drawLine(QPointF(area.left() + 1, foot), QPointF(area.right() - 1, foot))
    for number in range(trees):
        middle = area.left() + pitch * (number + 0.5)
        size = crown * (0.86 if number % 2 else 1.0)
        painter.setPen(QPen(QColor(trunk), max(1.6, crown / 7), Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
        painter.drawLine(QPointF(middle, foot), QPointF(middle, foot - size * 1.3))
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(leaf))
        painter.drawEllipse(QPointF(middle, foot - size * 1.5), size, size)
        painter.setBrush(QColor(trunk))
        painter.drawEllipse(QPointF(middle + size * 0.35, foot - size * 1.35), size * 0.2, size * 0.2)
    painter.restore()
