"""What a strategy does, as a picture: one made-up signal, what each stage leaves of it, and what is taken."""

from __future__ import annotations

from itertools import groupby

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from gui.model.example_signal import TRUTH, Through
from gui.swatches import SwatchBook, fill_of, paint_swatch
from gui.theme import SMALL_PX, Theme
from gui.words import tr

BAND_PX, GAP_PX, SWATCH_PX = 11, 6, 20
NAME_PX, END_PX, LEAST_PX = 76, 24, 2.0
LINE_PX = BAND_PX + GAP_PX


class StrategyPicture(QWidget):
    """``show_through`` draws it; its height follows the number of stages."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.theme = theme
        self.book = SwatchBook(dict.fromkeys((*TRUTH, "white")))
        self.shown: Through | None = None
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName(tr("What it does to an example"))
        self.setToolTip(
            tr("A made-up run: a flicker before marker 2, which drops out in its middle; a decoy; white edges around "
               "marker 3, where the robot stands for a moment; marker 4 shows in two samples only.")
        )  # fmt: skip

    def set_theme(self, theme: Theme) -> None:
        self.theme = theme
        self.update()

    def show_through(self, shown: Through | None) -> None:
        self.shown = shown
        self.setAccessibleDescription("" if shown is None else shown.in_words())
        self.updateGeometry()
        self.update()

    def sizeHint(self) -> QSize:  # noqa: N802
        stages = 1 if self.shown is None else len(self.shown.stages)
        return QSize(280, 2 * (SWATCH_PX + GAP_PX) + stages * LINE_PX + GAP_PX)

    def minimumSizeHint(self) -> QSize:  # noqa: N802
        return QSize(200, self.sizeHint().height())

    def paintEvent(self, _event: QPaintEvent) -> None:  # noqa: N802
        painter = QPainter(self)
        if self.shown is not None:
            paint_through(painter, QRectF(self.rect()), self.shown, self.book, self.theme)
        painter.end()


def paint_through(painter: QPainter, area: QRectF, shown: Through, book: SwatchBook, theme: Theme) -> None:
    """The whole picture, from the left edge of ``area``; also on something that is no widget."""
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    font = QFont(painter.font())
    font.setPixelSize(SMALL_PX)
    painter.setFont(font)
    left = area.left() + NAME_PX
    step = (area.width() - NAME_PX - END_PX) / shown.rows
    top = area.top()
    _name(painter, QRectF(area.left(), top, area.width(), SWATCH_PX), tr("actual"), theme)
    for name, first, behind in shown.slots:
        middle = left + step * (first + behind) / 2
        box = QRectF(middle - SWATCH_PX / 2, top, SWATCH_PX, SWATCH_PX)
        if name in TRUTH:
            paint_swatch(painter, box, book.of(name), radius=4)
        else:
            painter.setPen(QPen(QColor(theme.soft), 1, Qt.PenStyle.DashLine))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRoundedRect(box, 4, 4)
            painter.drawText(box, Qt.AlignmentFlag.AlignCenter, "✗")
    top += SWATCH_PX + GAP_PX
    for stage, said in shown.stages:
        _name(painter, QRectF(area.left(), top, area.width(), BAND_PX), stage or tr("sensor"), theme)
        painter.fillRect(QRectF(left, top + BAND_PX / 2 - 0.5, step * shown.rows, 1), QColor(theme.line))
        painter.setPen(QPen(QColor(theme.soft), 0.7))
        row = 0
        for colour, cells in groupby(said):
            count = len(list(cells))
            if colour:
                painter.setBrush(QColor(fill_of(colour)))
                painter.drawRect(QRectF(left + row * step, top, max(step * count, LEAST_PX), BAND_PX))
            row += count
        top += LINE_PX
    if shown.stops_at is not None:
        at = left + step * shown.stops_at
        painter.setPen(QPen(QColor(theme.bad_ink), 1.5, Qt.PenStyle.DashLine))
        painter.drawLine(int(at), int(area.top() + SWATCH_PX + 2), int(at), int(top))
    _name(painter, QRectF(area.left(), top, area.width(), SWATCH_PX), tr("taken"), theme)
    for take, at in zip(shown.takes, _apart([left + step * take.row for take in shown.takes], area.right()), strict=True):
        box = QRectF(at - SWATCH_PX / 2, top, SWATCH_PX, SWATCH_PX)
        paint_swatch(painter, box, book.of(take.colour), radius=4)
        if not take.right:
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(QColor(theme.bad_ink), 2))
            painter.drawLine(box.topLeft(), box.bottomRight())
            painter.drawRoundedRect(box, 4, 4)
    if not shown.takes:
        painter.setPen(QColor(theme.soft))
        words = tr("would stop at the dashed line") if shown.stops_at is not None else tr("nothing: the robot drove on")
        painter.drawText(QRectF(left, top, area.right() - left, SWATCH_PX), Qt.AlignmentFlag.AlignVCenter, words)


def _apart(middles: list[float], right: float) -> list[float]:
    """The middles of the boxes, moved so far that none covers another and none leaves the picture on the right."""
    least = SWATCH_PX + 2
    for number in range(1, len(middles)):
        middles[number] = max(middles[number], middles[number - 1] + least)
    most = right - SWATCH_PX / 2 - 1
    for number in reversed(range(len(middles))):
        middles[number] = min(middles[number], most)
        most = middles[number] - least
    return middles


def _name(painter: QPainter, row: QRectF, words: str, theme: Theme) -> None:
    """At the left end of a row."""
    painter.setPen(QColor(theme.soft))
    room = QRectF(row.left(), row.top() - 3, NAME_PX - 6, row.height() + 6)
    text = painter.fontMetrics().elidedText(words, Qt.TextElideMode.ElideRight, int(room.width()))
    painter.drawText(room, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, text)
