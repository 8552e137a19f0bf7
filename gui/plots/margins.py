"""What is painted around and over the pictures of a stack: ticks, titles, values, flags, gaps, the cursor, silence."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Protocol

import numpy as np
from PySide6.QtCore import QPointF, QRect, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QFont, QFontMetrics, QPainter, QPen, QRegion

from gui.model.series import TIME
from gui.plots.strip import Strip, nice_step
from gui.swatches import swatch_pixmap
from gui.words import tr

if TYPE_CHECKING:
    from gui.model.series import Flag, Series
    from gui.plots.ribbon import Lane
    from gui.plots.view import View
    from gui.theme import Theme


class Pictured(Protocol):
    """What is asked of a stack. ``rects``: where each of its pictures is, strips first, in pixels of the screen."""

    strips: list[Strip]
    lanes: list[Lane]
    theme: Theme
    view: View
    series: Series
    flags: list[Flag]
    cursor_row: int
    now: float
    rects: list[QRect]

    def whole(self) -> float:
        """Where the last sample is, on the axis."""

    def font(self) -> QFont:
        """As of a widget."""

    def rect(self) -> QRect:
        """As of a widget."""


LEFT_PX, RIGHT_PX = 54, 140
FLAGS_PX, AXIS_PX, BETWEEN_PX, BESIDE_PX = 20, 24, 6, 5
TICK_PX = 13
"""Labels of ticks closer together would stand in each other."""
LEAST_LINE_PX, LINE_PX = 12.0, 16.0
TWO_LINES_PX = 30


def uncovered(plot: QRect, pictures: Sequence[QRect], ratio: float) -> QRegion:
    """What no picture covers, a pixel more rather than less: most of a plot need not be painted twice.

    ``pictures`` in pixels of the screen, ``ratio`` of them to one of ``plot``.
    """
    gaps = QRegion(plot)
    for rect in pictures:
        left, top = math.ceil(rect.left() / ratio), math.ceil(rect.top() / ratio)
        right, bottom = int((rect.left() + rect.width()) / ratio), int((rect.top() + rect.height()) / ratio)
        gaps -= QRegion(left, top, right - left, bottom - top)
    return gaps


def axis_ticks(stack: Pictured) -> list[tuple[float, str]]:
    """(column, label) of each tick. Live: fixed places relative to now; else whole values of the axis."""
    view = stack.view
    step = nice_step(view.span, 6)
    unit = tr("s") if view.axis == TIME else tr("cm")
    if view.live:
        count = int(view.span / step + 1e-6)
        ticks = [(view.width - number * step / view.step, -number * step) for number in range(count, -1, -1)]
    else:
        begin = math.ceil(view.start / step - 1e-9)
        ticks = [(view.pixel_of(number * step), number * step) for number in range(begin, int(view.end / step + 1e-9) + 1)]
    digits = max(0, -math.floor(math.log10(step) + 1e-9))
    return [
        (pixel, f"{value:.{digits}f} {unit}".replace("-", "−")) for pixel, value in ticks if 0 <= pixel <= view.width + 1
    ]


def paint_lines(stack: Pictured, painter: QPainter, ratio: float) -> None:
    """The upright lines that may stand anywhere: gaps, flags, the cursor."""
    top, bottom = stack.rects[0].top(), stack.rects[-1].bottom()
    left = stack.rects[0].left()
    view = stack.view
    x = stack.series.axis(view.axis)
    if view.axis == TIME and stack.series.gaps:
        hatch = QColor(stack.theme.rust)
        hatch.setAlphaF(0.35)
        for row, _length in stack.series.gaps[-200:]:
            begin, end = (view.pixel_of(float(x[stack.series.index_of(at)])) for at in (max(row - 1, 0), row))
            if end >= 0 and begin <= view.width:
                begin, end = max(begin, 0.0), min(end, view.width)
                painter.fillRect(QRectF(left + begin, top, end - begin, bottom - top), QColor(stack.theme.card))
                painter.setBrushOrigin(0, 0)
                painter.fillRect(QRectF(left + begin, top, end - begin, bottom - top), _brush(hatch))
    colours = {"note": stack.theme.soft, "read": stack.theme.leaf, "mark": stack.theme.traces[0], "fail": stack.theme.rust}
    for flag in stack.flags:
        if flag.row < stack.series.taken:
            pixel = view.pixel_of(float(x[stack.series.index_of(flag.row)]))
            if 0 <= pixel <= view.width:
                painter.setPen(QPen(QColor(colours[flag.kind]), ratio, Qt.PenStyle.DashLine))
                painter.drawLine(int(left + pixel), top, int(left + pixel), bottom)
    if 0 <= stack.cursor_row < len(x):
        pixel = view.pixel_of(float(x[stack.cursor_row]))
        if 0 <= pixel <= view.width:
            painter.setPen(QPen(QColor(stack.theme.ink), ratio))
            painter.drawLine(int(left + pixel), top, int(left + pixel), bottom)


def paint_letters(stack: Pictured, painter: QPainter, ratio: float) -> None:
    for rect, lane in zip(stack.rects[len(stack.strips) :], stack.lanes, strict=True):
        side = int(rect.height() / ratio) - 4
        for run in lane.runs(at_least=round((side + 4) * ratio)):
            middle = rect.left() + (run.begin + run.end) / 2
            picture = swatch_pixmap(run.swatch, side, side, ratio)
            painter.drawPixmap(QPointF(middle / ratio - side / 2, rect.top() / ratio + 2), picture)


def paint_flags(stack: Pictured, painter: QPainter, ratio: float) -> None:
    x = stack.series.axis(stack.view.axis)
    left = stack.rects[0].left() / ratio
    font = QFont(stack.font())
    font.setPixelSize(12)
    painter.setFont(font)
    metrics = painter.fontMetrics()
    taken_until = 0.0
    for flag in stack.flags:
        if flag.row >= stack.series.taken:
            continue
        pixel = stack.view.pixel_of(float(x[stack.series.index_of(flag.row)])) / ratio
        if not 0 <= pixel <= stack.view.width / ratio:
            continue
        wide = metrics.horizontalAdvance(flag.text)
        begin = min(max(left + pixel - wide / 2, left), left + stack.view.width / ratio - wide)
        if begin < taken_until:
            continue
        taken_until = begin + wide + 6
        painter.setPen(QColor(stack.theme.rust if flag.kind == "fail" else stack.theme.ink))
        painter.drawText(QPointF(begin, FLAGS_PX - 6), flag.text)


def paint_silence(stack: Pictured, painter: QPainter, ratio: float) -> None:
    """A hatched end of the picture that grows for as long as nothing arrives."""
    begin = max(0.0, stack.view.pixel_of(stack.whole()) / ratio)
    left = stack.rects[0].left() / ratio
    top, bottom = stack.rects[0].top() / ratio, stack.rects[-1].bottom() / ratio
    area = QRectF(left + begin, top, stack.view.width / ratio - begin, bottom - top)
    hatch = QColor(stack.theme.rust)
    hatch.setAlphaF(0.35)
    painter.fillRect(area, _brush(hatch))
    text = tr("nothing for {seconds:.1f} s", seconds=stack.now - stack.whole())
    font = QFont(stack.font())
    font.setBold(True)
    painter.setFont(font)
    wide = painter.fontMetrics().horizontalAdvance(text) + 16
    plate = QRectF(left + stack.view.width / ratio - wide - 8, top + 8, wide, 28)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(QColor(stack.theme.bad_ground))
    painter.drawRoundedRect(plate, 6, 6)
    painter.setPen(QColor(stack.theme.bad_ink))
    painter.drawText(plate, Qt.AlignmentFlag.AlignCenter, text)
    painter.setBrush(Qt.BrushStyle.NoBrush)  # else the ring of the focus would be filled with it


def paint_margins(stack: Pictured, painter: QPainter, ratio: float) -> None:
    """Everything beside the pictures: titles, values, ticks and the axis."""
    theme = stack.theme
    painter.fillRect(stack.rect(), QColor(theme.card))
    small = QFont(stack.font())
    small.setPixelSize(12)
    bold = QFont(stack.font())
    bold.setPixelSize(13)
    bold.setBold(True)
    row = stack.cursor_row if 0 <= stack.cursor_row < stack.series.rows else stack.series.rows - 1
    right = stack.rects[0].right() / ratio + 10
    room = RIGHT_PX - 14
    for rect, strip in zip(stack.rects, stack.strips, strict=False):
        top, tall = rect.top() / ratio, rect.height() / ratio
        painter.setFont(small)
        painter.setPen(QColor(theme.soft))
        last_y = math.inf
        for tick in strip.ticks():
            y = min(max(top + strip.row_of(tick) / ratio, top + 7), top + tall - 7)
            if last_y - y < TICK_PX:
                continue
            last_y = y
            painter.drawText(
                QRectF(0, y - 8, LEFT_PX - 6, 16),
                int(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter),
                _figure(tick),
            )
        title = f"{strip.spec.title}  {strip.spec.unit}"
        area = QRectF(right, top + 16, room, tall - 15)
        if tall < TWO_LINES_PX:  # name and values share a line, and a value is never cut
            wide = room - _wide(stack, _values(stack, strip, row), below=len(strip.spec.traces) == 1) - 8
            metrics = painter.fontMetrics()
            title = metrics.elidedText(title, Qt.TextElideMode.ElideRight, max(int(wide), 0))
            begin_x = metrics.horizontalAdvance(title) + 8 if title else 0
            area = QRectF(right + begin_x, top - 1, room - begin_x, 16)
        painter.drawText(QRectF(right, top - 1, room, 16), int(Qt.AlignmentFlag.AlignLeft), title)
        _paint_values(stack, painter, strip, area, row)
    for rect, lane in zip(stack.rects[len(stack.strips) :], stack.lanes, strict=True):
        painter.setFont(small)
        painter.setPen(QColor(theme.soft))
        middle = QRectF(right, rect.top() / ratio, room, rect.height() / ratio)
        codes = stack.series.channel(lane.channel)
        code = int(codes[row]) if codes is not None and row >= 0 else -1
        seen = lane.names[code] if 0 <= code < len(lane.names) else "–"
        painter.drawText(middle, int(Qt.AlignmentFlag.AlignVCenter), f"{lane.title}: {seen}")
    painter.setFont(small)
    painter.setPen(QColor(theme.soft))
    bottom = stack.rects[-1].bottom() / ratio + 4
    left = stack.rects[0].left() / ratio
    for pixel, label in axis_ticks(stack):
        wide = painter.fontMetrics().horizontalAdvance(label)
        begin = min(left + pixel / ratio - wide / 2, left + stack.view.width / ratio - wide + 6)
        painter.drawText(QPointF(begin, bottom + 12), label)
    if row >= 0 and stack.cursor_row >= 0:
        painter.setFont(bold)
        painter.setPen(QColor(theme.ink))
        value = float(stack.series.axis(stack.view.axis)[row])
        unit = tr("s") if stack.view.axis == TIME else tr("cm")
        painter.drawText(QRectF(right, bottom - 2, room, 18), int(Qt.AlignmentFlag.AlignLeft), f"{value:.2f} {unit}")


def _paint_values(stack: Pictured, painter: QPainter, strip: Strip, room: QRectF, row: int) -> None:
    """What each trace is at ``row``: one below the other, or side by side where the strip is too low for that."""
    traces = strip.spec.traces
    step = min(LINE_PX, room.height() / max(1, len(traces)))
    below = step >= LEAST_LINE_PX or len(traces) == 1
    painter.setFont(_values_font(stack, below=below))
    x, y = room.left(), room.top()
    for trace, text in zip(traces, _values(stack, strip, row), strict=True):
        painter.setPen(QColor(stack.theme.traces[trace.tint % len(stack.theme.traces)]))
        painter.drawText(QRectF(x, y, room.right() - x, 17), int(Qt.AlignmentFlag.AlignLeft), text)
        if below:
            y += step
        else:
            x += painter.fontMetrics().horizontalAdvance(text) + BESIDE_PX


def _values(stack: Pictured, strip: Strip, row: int) -> list[str]:
    """What each trace is at ``row``, as it is written."""
    out = []
    for trace in strip.spec.traces:
        values = stack.series.channel(trace.channel)
        figure = "–" if values is None or row < 0 or not np.isfinite(values[row]) else _figure(float(values[row]))
        out.append(f"{trace.label} {figure}".strip())
    return out


def _values_font(stack: Pictured, *, below: bool) -> QFont:
    font = QFont(stack.font())
    font.setPixelSize(13 if below else 11)
    font.setBold(True)
    return font


def _wide(stack: Pictured, texts: Sequence[str], *, below: bool) -> int:
    """What these take side by side."""
    metrics = QFontMetrics(_values_font(stack, below=below))
    return sum(metrics.horizontalAdvance(text) + 1 for text in texts) + BESIDE_PX * (len(texts) - 1)


def _brush(colour: QColor) -> QBrush:
    return QBrush(colour, Qt.BrushStyle.BDiagPattern)


def _figure(value: float) -> str:
    """A value in as many digits as can be read at a glance."""
    size = abs(value)
    text = f"{value:.0f}" if size >= 100 or value == round(value) else f"{value:.1f}" if size >= 1 else f"{value:.2f}"
    return text.replace("-", "−")
