"""All strategies on one sheet, each with what it does to the same signal: a picture of the guide."""

from __future__ import annotations

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QFont, QImage, QPainter

from gui.model.example_signal import TRUTH, through
from gui.plots.strategy_picture import StrategyPicture, paint_through
from gui.swatches import SwatchBook
from gui.theme import BODY_PX, Theme
from telemetry.reading.strategies import STRATEGIES

ACROSS, WIDE_PX, MARGIN_PX, HEAD_PX, SHARP = 2, 380, 18, 26, 2


def strategy_sheet(theme: Theme) -> QImage:
    """Two beside each other, from the simplest on."""
    names = list(STRATEGIES)
    picture = StrategyPicture(theme)
    tall = {}
    for name in names:
        picture.show_through(through(name))
        tall[name] = HEAD_PX + picture.sizeHint().height() + MARGIN_PX
    lines = [names[at : at + ACROSS] for at in range(0, len(names), ACROSS)]
    high = MARGIN_PX + sum(max(tall[name] for name in line) for line in lines)
    wide = ACROSS * (WIDE_PX + MARGIN_PX) + MARGIN_PX
    image = QImage(wide * SHARP, high * SHARP, QImage.Format.Format_RGB32)
    image.setDevicePixelRatio(SHARP)
    image.fill(QColor(theme.card))
    painter = QPainter(image)
    book = SwatchBook(dict.fromkeys((*TRUTH, "white")))
    top = MARGIN_PX
    for line in lines:
        for place, name in enumerate(line):
            left = MARGIN_PX + place * (WIDE_PX + MARGIN_PX)
            font = QFont(picture.font())
            font.setPixelSize(BODY_PX)
            font.setBold(True)
            painter.setFont(font)
            painter.setPen(QColor(theme.ink))
            painter.drawText(QRectF(left, top, WIDE_PX, HEAD_PX), Qt.AlignmentFlag.AlignLeft, name)
            font.setBold(False)
            painter.setFont(font)
            paint_through(painter, QRectF(left, top + HEAD_PX, WIDE_PX, 0), through(name), book, theme)
        top += max(tall[name] for name in line)
    painter.end()
    return image
