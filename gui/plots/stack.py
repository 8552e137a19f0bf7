"""The plots of a run, one above the other on one axis, with the ribbon below: live, frozen, or of a finished recording."""

from __future__ import annotations

import math
import time
from collections import deque
from collections.abc import Sequence

import numpy as np
from PySide6.QtCore import QPointF, QRect, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QRegion,
    QResizeEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QSizePolicy, QWidget

from gui.model.series import TIME, WAY, Flag, Series
from gui.plots.margins import (
    AXIS_PX,
    BETWEEN_PX,
    FLAGS_PX,
    LEFT_PX,
    RIGHT_PX,
    axis_ticks,
    paint_flags,
    paint_letters,
    paint_lines,
    paint_margins,
    paint_silence,
    uncovered,
)
from gui.plots.raster import blit_ring, rgb32, shade_columns
from gui.plots.ribbon import Lane
from gui.plots.strip import Strip, StripSpec
from gui.plots.view import View
from gui.theme import Theme
from gui.words import tr

LANE_PX, SMALLEST_STRIP_PX = 22, 26
VALUES_EVERY_S = 0.1
"""Figures beside the strips change at most this often: faster than this nobody reads them."""
FAR = 1 << 30
STEPS = {Qt.Key.Key_Left: -1, Qt.Key.Key_Right: 1, Qt.Key.Key_Home: -FAR, Qt.Key.Key_End: FAR}


class StripStack(QWidget):
    """All strips and lanes of one run in one widget, painted in one go.

    Mouse: drag to move, wheel to zoom, point to read values, click to hold a sample. Keys: arrows step sample by sample
    (with Shift by 20), + and - zoom, Home and End go to the ends, Escape lets go of the sample.
    """

    cursor_moved = Signal(int)
    view_changed = Signal()
    let_go = Signal()
    """The user moved a live picture away from now: it is frozen from here on."""

    def __init__(
        self, specs: Sequence[StripSpec], lanes: Sequence[Lane], theme: Theme, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.strips = [Strip(spec) for spec in specs]
        self.lanes = list(lanes)
        self.theme = theme
        self.view = View()
        self.series = Series()
        self.flags: list[Flag] = []
        self.cursor_row = -1
        self.empty_text = tr("Nothing has arrived yet.")
        self.paint_s: deque[float] = deque(maxlen=4000)
        self.now = 0.0
        self._shown_rows = 0
        self.silent = False
        self._grip: QPointF | None = None
        self._dragged = False
        self._pinned = self._hovered = False
        """The sample looked at was chosen by click or key: the pointer that passes by changes nothing."""
        self._ratio = 0.0
        self.rects: list[QRect] = []
        self._plot = QRect()
        self._gaps = QRegion()
        self._values_at = 0.0
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(340, self._least_height())
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setAccessibleName(tr("Plots of the run"))

    def _least_height(self) -> int:
        return FLAGS_PX + AXIS_PX + len(self.strips) * (SMALLEST_STRIP_PX + BETWEEN_PX) + len(self.lanes) * (LANE_PX + 4)

    # -- what is shown ------------------------------------------------------------------------------------------------

    def set_theme(self, theme: Theme) -> None:
        self.theme = theme
        self._ratio = 0.0
        self.update()

    def set_series(self, series: Series, live: bool) -> None:
        """Show another run. A live one is followed at its newest sample, a finished one shown whole."""
        self.series = series
        self.cursor_row, self.flags = -1, []
        self.view.live = live
        self._shown_rows, self.now = 0, 0.0
        self._forget()
        if live:
            self.view.follow()
        else:
            self.show_whole()
        self.update()

    def set_axis(self, axis: str) -> None:
        """Along time, or along the way driven; the sample under the cursor (or the middle) stays in view."""
        if axis == self.view.axis:
            return
        middle = self.series.row_at(self.view.axis, self.view.value_at(self.view.width / 2))
        self.view.axis = axis
        if self.view.live:
            self.view.follow()
            self._follow_now()
        else:
            self.show_whole()
            if 0 <= middle < self.series.rows:
                self.cursor_row = self.cursor_row if self.cursor_row >= 0 else middle
        self._forget()
        self.update()

    def whole(self) -> float:
        x = self.series.axis(self.view.axis)
        return float(x[-1]) if len(x) else 0.0

    def show_whole(self) -> None:
        """Everything from the first to the last sample."""
        self.view.live = False
        self.view.span = max(self.whole() * 1.02, 0.5)
        self.view.end = self.view.span
        self.view_changed.emit()
        self.update()

    def show_around(self, row: int, span: float | None = None) -> None:
        """Bring a sample to the middle, put the cursor there."""
        if not 0 <= row < self.series.rows:
            return
        self.view.live = False
        if span is not None:
            self.view.span = span
        self.view.end = float(self.series.axis(self.view.axis)[row]) + self.view.span / 2
        self.view.keep_within(self.whole())
        self._pinned = True
        self.set_cursor(row)
        self.view_changed.emit()

    def set_view(self, span: float, end: float) -> None:
        """Show the same stretch as another stack; says nothing to others."""
        self.view.live = False
        self.view.span, self.view.end = span, end
        self.update()

    def set_cursor(self, row: int) -> None:
        """Put the cursor on a sample, -1 for none."""
        self._hovered = False
        if row == self.cursor_row:
            return
        self.cursor_row = row
        if row >= 0 and not self.view.live:
            pixel = self.view.pixel_of(float(self.series.axis(self.view.axis)[row]))
            if not 0 <= pixel <= self.view.width:
                self.view.end = float(self.series.axis(self.view.axis)[row]) + self.view.span / 2
                self.view.keep_within(self.whole())
        self.cursor_moved.emit(row)
        self.update()

    def freeze(self, frozen: bool) -> None:
        """Hold the picture while samples go on arriving, or follow them again."""
        if frozen == (not self.view.live):
            return
        self.view.live = not frozen
        if frozen:
            self.view.end = self.now
        else:
            self.cursor_row = -1
            self.view.follow()
            self._follow_now()
        self._forget()
        self.update()

    def advance(self, silence_s: float = 0.0) -> None:
        """New samples are in the series, or none have come for ``silence_s``: repaint what follows from it, no more."""
        if not self.view.live:
            return
        x = self.series.axis(self.view.axis)
        self.silent = silence_s > 0.0
        self.now = (float(x[-1]) if len(x) else 0.0) + (silence_s if self.view.axis == TIME else 0.0)
        first = self.view.first
        self._follow_now()
        if first == self.view.first and self._shown_rows == self.series.rows and not self.silent:
            return
        clock = time.monotonic()
        if clock - self._values_at >= VALUES_EVERY_S or self.series.rows < 50:
            self._values_at = clock
            self.update()
        else:
            self.update(self._plot)

    def _follow_now(self) -> None:
        if self.silent is False and self.view.axis == TIME:
            self.now = max(self.now, self.whole()) if self.now - self.whole() < 0.05 else self.whole()
        elif self.view.axis == WAY:
            self.now = self.whole()
        self.view.end = self.now

    def _forget(self) -> None:
        pictures: list[Strip | Lane] = [*self.strips, *self.lanes]
        for picture in pictures:
            picture.forget()

    # -- layout -------------------------------------------------------------------------------------------------------

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        self._ratio = 0.0
        super().resizeEvent(event)

    def _lay_out(self, ratio: float) -> None:
        """Sizes in whole pixels of the screen, so that pictures are copied, never scaled."""
        self._ratio = ratio
        width = max(10, round((self.width() - LEFT_PX - RIGHT_PX) * ratio))
        height = round(self.height() * ratio)
        flags, axis, between, lane = (round(size * ratio) for size in (FLAGS_PX, AXIS_PX, BETWEEN_PX, LANE_PX))
        room = height - flags - axis - len(self.lanes) * (lane + between) - len(self.strips) * between
        weights = sum(strip.spec.weight for strip in self.strips) or 1.0
        left, y = round(LEFT_PX * ratio), flags
        self.rects = []
        for strip in self.strips:
            tall = max(8, int(room * strip.spec.weight / weights))
            self.rects.append(QRect(left, y, width, tall))
            tints = self.theme.traces
            strip.resize(width, tall, 1.7 * ratio, background=self.theme.plot, grid=self.theme.grid, tints=tints)
            y += tall + between
        for band in self.lanes:
            self.rects.append(QRect(left, y, width, lane))
            band.resize(width, lane, ratio, self.theme.plot)
            y += lane + between
        top = int(flags / ratio) - FLAGS_PX
        self._plot = QRect(int(left / ratio) - 1, top, math.ceil(width / ratio) + 3, math.ceil(y / ratio) - top)
        self._gaps = uncovered(self._plot, self.rects, ratio)
        if self.view.width != width:
            self.view.width = width

    # -- painting -----------------------------------------------------------------------------------------------------

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        begun = time.perf_counter()
        ratio = self.devicePixelRatioF()
        if ratio != self._ratio:
            self._lay_out(ratio)
        view = self.view
        first, step = view.first, view.step
        x = self.series.axis(view.axis)
        dirty = int(float(x[self._shown_rows - 1]) / step) - 1 if 0 < self._shown_rows <= len(x) else first
        for strip in self.strips:
            strip.show(self.series, view.axis, first, step, dirty)
        for lane in self.lanes:
            lane.show(self.series, view.axis, first, step, dirty)
        self._shown_rows = self.series.rows
        painter = QPainter(self)
        outside = event.region().subtracted(QRegion(self._plot))
        margins = not outside.isEmpty()
        if margins:
            paint_margins(self, painter, ratio)
        else:
            for gap in self._gaps:  # type: ignore[attr-defined]
                painter.fillRect(gap, QColor(self.theme.card))
        painter.save()
        painter.scale(1 / ratio, 1 / ratio)
        grid = np.array([int(pixel) for pixel, _ in axis_ticks(self) if pixel < view.width], dtype=np.int64)
        pictures: list[Strip | Lane] = [*self.strips, *self.lanes]
        for rect, picture in zip(self.rects, pictures, strict=True):
            # The upright lines stand still while the ring of columns moves: laid into it for the copy, taken out again.
            slots = (first + grid) % picture.width
            without = shade_columns(picture.pixels, slots, rgb32(self.theme.soft))
            blit_ring(painter, rect, picture.image, first, rect.width())
            picture.pixels[:, slots] = without
        paint_lines(self, painter, ratio)
        painter.restore()
        paint_letters(self, painter, ratio)
        paint_flags(self, painter, ratio)
        if not self.series.rows:
            painter.setPen(QColor(self.theme.soft))
            painter.drawText(self._plot, Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap, self.empty_text)
        elif self.silent and view.live and view.axis == TIME:
            paint_silence(self, painter, ratio)
        if self.hasFocus() and margins:
            painter.setPen(QPen(QColor(self.theme.leaf), 2))
            painter.drawRect(self.rect().adjusted(1, 1, -1, -1))
        painter.end()
        self.paint_s.append(time.perf_counter() - begun)

    # -- mouse and keys -----------------------------------------------------------------------------------------------

    def _pixel(self, position: QPointF) -> float:
        return position.x() * (self._ratio or 1.0) - (self.rects[0].left() if self.rects else 0)

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: N802
        if event.button() == Qt.MouseButton.LeftButton:
            self._grip, self._dragged = event.position(), False
            self.setFocus()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:  # noqa: N802
        if self._grip is not None and event.buttons() & Qt.MouseButton.LeftButton:
            moved = (self._grip.x() - event.position().x()) * (self._ratio or 1.0)
            if abs(moved) < 2:
                return
            self._hold()
            self._grip, self._dragged = event.position(), True
            self.view.pan(moved, self.whole())
            self.view_changed.emit()
            self.update()
            return
        if self.view.live or self._pinned:
            return
        pixel = self._pixel(event.position())
        if 0 <= pixel <= self.view.width:
            self.set_cursor(self.series.row_at(self.view.axis, self.view.value_at(pixel)))
            self._hovered = True

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:  # noqa: N802
        """A click, not the end of a drag, holds the sample under the pointer: the pointer may go elsewhere then."""
        pixel = self._pixel(event.position())
        if self._grip is not None and not self._dragged and not self.view.live and 0 <= pixel <= self.view.width:
            self.set_cursor(self.series.row_at(self.view.axis, self.view.value_at(pixel)))
            self._pinned = True
        self._grip = None

    def mouseDoubleClickEvent(self, _event: QMouseEvent) -> None:  # noqa: N802
        self._hold()
        self.show_whole()

    def wheelEvent(self, event: QWheelEvent) -> None:  # noqa: N802
        self._zoom(0.9 ** (event.angleDelta().y() / 60), self._pixel(event.position()))
        event.accept()

    def _zoom(self, factor: float, pixel: float) -> None:
        if self.view.live:
            self.view.zoom_live(factor)
            self._follow_now()
            self._forget()
        else:
            self.view.zoom(factor, min(max(pixel, 0.0), self.view.width), self.whole())
        self.view_changed.emit()
        self.update()

    def _hold(self) -> None:
        if self.view.live:
            self.freeze(True)
            self.let_go.emit()

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802
        key = event.key()
        many = 20 if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else 1
        last = self.series.rows - 1
        here = self.cursor_row if self.cursor_row >= 0 else last
        if last < 0:
            super().keyPressEvent(event)
        elif key in STEPS:
            self._hold()
            self._pinned = True
            self.set_cursor(min(max(here + STEPS[Qt.Key(key)] * many, 0), last))
        elif key in (Qt.Key.Key_Plus, Qt.Key.Key_Equal, Qt.Key.Key_Minus):
            factor = 1.25 if key == Qt.Key.Key_Minus else 0.8
            x = self.series.axis(self.view.axis)
            at = self.view.pixel_of(float(x[self.cursor_row])) if self.cursor_row >= 0 else self.view.width / 2
            self._zoom(factor, at)
        elif key == Qt.Key.Key_Escape and self.cursor_row >= 0 and not self._hovered:
            self._pinned = False
            self.set_cursor(-1)
        else:
            super().keyPressEvent(event)

    # -- taking it elsewhere ------------------------------------------------------------------------------------------

    def rows_in_view(self) -> range:
        x = self.series.axis(self.view.axis)
        return range(
            int(np.searchsorted(x, self.view.start)), int(np.searchsorted(x, self.view.start + self.view.span, side="right"))
        )
