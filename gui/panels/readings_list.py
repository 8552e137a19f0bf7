"""What a strategy has read so far, slot by slot."""

from __future__ import annotations

from PySide6.QtCore import QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFont, QFontMetrics, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from gui.swatches import SwatchBook, paint_swatch
from gui.theme import Theme
from gui.words import tr
from telemetry.course import EMPTY, Course, Truth
from telemetry.replay.readings import ASSUMED, INFERRED, READ, Taken

ROW_PX = 25
SWATCH_PX, NAME_PX = 21, 66
MOST_PX = 420
"""In a wider place the signs would stand far from what they are about."""


def verdict_of(taken: Taken, truth: Truth | None, slot: int) -> str:
    """'right', 'wrong' or 'missing' where the truth is known, else ''."""
    if truth is None:
        return ""
    colour = taken.slots[slot].colour
    if colour is None:
        return "right" if truth[slot] == EMPTY else "missing"
    return "right" if colour == truth[slot] else "wrong"


class ReadingsList(QWidget):
    """One row a slot: its swatch and colour, how it was read, and how sure. Rows can be chosen to see where it happened."""

    slot_chosen = Signal(int)

    def __init__(self, course: Course, book: SwatchBook, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.course = course
        self.book = book
        self.theme = theme
        self.taken = Taken(())
        self.truth: Truth | None = None
        self.chosen = -1
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName(tr("Readings, slot by slot"))

    def sizeHint(self) -> QSize:  # noqa: N802
        return QSize(260, ROW_PX * len(self.course.slots) + 4)

    def minimumSizeHint(self) -> QSize:  # noqa: N802
        return QSize(220, ROW_PX * len(self.course.slots) + 4)

    def set_course(self, course: Course, book: SwatchBook) -> None:
        self.course, self.book, self.taken, self.truth = course, book, Taken(()), None
        self.updateGeometry()
        self.update()

    def set_theme(self, theme: Theme) -> None:
        self.theme = theme
        self.update()

    def show_readings(self, taken: Taken, truth: Truth | None = None) -> None:
        if taken == self.taken and truth == self.truth:
            return
        self.taken, self.truth = taken, truth
        self.setAccessibleDescription("; ".join(self.words(slot) for slot in range(len(self.course.slots))))
        self.update()

    def words(self, slot: int) -> str:
        """One row as a sentence."""
        name = self.course.slots[slot].name
        if slot >= len(self.taken.slots) or self.taken.slots[slot].colour is None:
            return tr("{slot}: not read", slot=name)
        reading = self.taken.slots[slot]
        return tr("{slot}: {colour}, {how}", slot=name, colour=reading.colour, how=self.how(slot))

    def how(self, slot: int) -> str:
        reading = self.taken.slots[slot]
        if reading.colour is None:
            return ""
        words = {READ: tr("read"), INFERRED: tr("by elimination"), ASSUMED: tr("assumed")}.get(reading.how, reading.how)
        if reading.confidence is not None:
            return f"{words}, {100 * reading.confidence:.0f} %"
        if reading.dist_cm is not None:
            return tr("at {cm:.1f} cm", cm=reading.dist_cm)
        return words

    def _how_within(self, metrics: QFontMetrics, slot: int, room: float) -> str:
        """How it was read; where that has no room, without the share that it is sure."""
        words = self.how(slot)
        return words if metrics.horizontalAdvance(words) <= room else words.split(", ")[0]

    def paintEvent(self, _event: QPaintEvent) -> None:  # noqa: N802
        theme = self.theme
        painter = QPainter(self)
        font = QFont(self.font())
        font.setPixelSize(14)
        small = QFont(font)
        small.setPixelSize(12)
        middle = int(Qt.AlignmentFlag.AlignVCenter)
        painter.setFont(font)
        seen = [reading.colour or "" for reading in self.taken.slots]
        wide = min(self.width(), MOST_PX)
        metrics = painter.fontMetrics()
        slot_px = max([NAME_PX, *(metrics.horizontalAdvance(slot.name) + 8 for slot in self.course.slots)])
        slot_px = int(min(slot_px, wide * 0.4))
        name_px = max([52, *(painter.fontMetrics().horizontalAdvance(colour) for colour in seen)]) + 10

        for slot, about in enumerate(self.course.slots):
            row = QRectF(0, 2 + slot * ROW_PX, wide, ROW_PX)
            if slot == self.chosen:
                painter.setPen(Qt.PenStyle.NoPen)
                painter.setBrush(QColor(theme.leaf_wash))
                painter.drawRoundedRect(row, 6, 6)
            painter.setFont(font)
            painter.setPen(QColor(theme.soft))
            name = metrics.elidedText(about.name, Qt.TextElideMode.ElideRight, slot_px - 6)
            painter.drawText(row.adjusted(6, 0, 0, 0), middle, name)
            left = 6 + slot_px
            reading = self.taken.slots[slot] if slot < len(self.taken.slots) else None
            area = QRectF(left, row.top() + 2, SWATCH_PX, SWATCH_PX)
            if reading is None or reading.colour is None:
                painter.setPen(QPen(QColor(theme.soft), 1, Qt.PenStyle.DashLine))
                painter.setBrush(Qt.BrushStyle.NoBrush)
                painter.drawRoundedRect(area, 5, 5)
                painter.setPen(QColor(theme.soft))
                painter.drawText(QRectF(left + 28, row.top(), 90, ROW_PX), middle, tr("not read"))
            else:
                paint_swatch(painter, area, self.book.of(reading.colour), radius=5)
                painter.setFont(font)
                painter.setPen(QColor(theme.ink))
                painter.drawText(QRectF(left + 28, row.top(), name_px, ROW_PX), middle, reading.colour)
                painter.setFont(small)
                painter.setPen(QColor(theme.soft))
                room = row.adjusted(left + 28 + name_px, 0, 0 if self.truth is None else -30, 0)
                painter.drawText(room, middle, self._how_within(painter.fontMetrics(), slot, room.width()))
            self._paint_verdict(painter, row, slot)
        if self.hasFocus():
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(QColor(theme.leaf), 2))
            painter.drawRoundedRect(QRectF(self.rect()).adjusted(1, 1, -1, -1), 7, 7)
        painter.end()

    def _paint_verdict(self, painter: QPainter, row: QRectF, slot: int) -> None:
        if self.truth is None or slot >= len(self.taken.slots):
            return
        verdict = verdict_of(self.taken, self.truth, slot)
        theme = self.theme
        sign = {"right": "✓", "wrong": "✗", "missing": "–"}[verdict]
        ground, ink = (theme.good_ground, theme.good_ink) if verdict == "right" else (theme.bad_ground, theme.bad_ink)
        badge = QRectF(row.right() - 26, row.top() + 3, 20, 19)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(ground))
        painter.drawRoundedRect(badge, 5, 5)
        font = QFont(self.font())
        font.setPixelSize(13)
        font.setBold(True)
        painter.setFont(font)
        painter.setPen(QColor(ink))
        painter.drawText(badge, Qt.AlignmentFlag.AlignCenter, sign)

    def _choose(self, slot: int) -> None:
        self.chosen = slot
        self.update()
        self.slot_chosen.emit(slot)

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: N802
        slot = int((event.position().y() - 2) // ROW_PX)
        if 0 <= slot < len(self.course.slots):
            self._choose(slot)

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802
        step = {Qt.Key.Key_Down: 1, Qt.Key.Key_Up: -1}.get(Qt.Key(event.key()))
        if step is None or not self.course.slots:
            super().keyPressEvent(event)
            return
        self._choose((self.chosen + step) % len(self.course.slots))
