"""A picture of cells: two things varied, and in each cell a sign and a figure; colour only repeats what these say."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from gui.theme import SMALL_PX, Theme

CELL_WIDE_PX, CELL_HIGH_PX = 58, 26
AXIS_PX = 24


@dataclass(frozen=True, slots=True)
class Cell:
    """``kind``: good, warn or bad. ``framed``: stands out."""

    text: str
    kind: str
    framed: bool = False


@dataclass(frozen=True, slots=True)
class CellGrid:
    """``rows`` and ``columns`` name the values varied, ``down`` and ``across`` what was varied."""

    down: str
    across: str
    rows: Sequence[str]
    columns: Sequence[str]
    cells: Sequence[Sequence[Cell]]


class CellPicture(QWidget):
    """Takes the room its cells need; where there is more, they grow."""

    def __init__(self, shown: CellGrid, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.shown = shown
        self.theme = theme
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName(f"{shown.down}, {shown.across}")
        lines = [
            f"{row}: " + ", ".join(f"{column} {cell.text}" for column, cell in zip(shown.columns, cells, strict=True))
            for row, cells in zip(shown.rows, shown.cells, strict=True)
        ]
        self.setAccessibleDescription("; ".join(lines))

    def _font(self, *, bold: bool = False) -> QFont:
        font = QFont(self.font())
        font.setPixelSize(SMALL_PX)
        font.setBold(bold)
        return font

    @property
    def _label_px(self) -> int:
        from PySide6.QtGui import QFontMetrics

        metrics = QFontMetrics(self._font())
        return max((metrics.horizontalAdvance(row) for row in self.shown.rows), default=0) + 14

    def sizeHint(self) -> QSize:  # noqa: N802
        return QSize(
            self._label_px + CELL_WIDE_PX * len(self.shown.columns), 3 * AXIS_PX + CELL_HIGH_PX * len(self.shown.rows)
        )

    def minimumSizeHint(self) -> QSize:  # noqa: N802
        return self.sizeHint()

    def paintEvent(self, _event: QPaintEvent) -> None:  # noqa: N802
        theme, shown, left = self.theme, self.shown, self._label_px
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), QColor(theme.card))
        painter.setFont(self._font())
        painter.setPen(QColor(theme.soft))
        wide = (self.width() - left) / max(1, len(shown.columns))
        painter.drawText(QRectF(0, 0, self.width(), AXIS_PX), Qt.AlignmentFlag.AlignVCenter, f"↓ {shown.down}")
        across = QRectF(left, AXIS_PX, self.width() - left, AXIS_PX)
        painter.drawText(across, Qt.AlignmentFlag.AlignCenter, f"{shown.across} →")
        for k, name in enumerate(shown.columns):
            painter.drawText(QRectF(left + k * wide, 2 * AXIS_PX, wide, AXIS_PX), Qt.AlignmentFlag.AlignCenter, name)
        for i, (name, cells) in enumerate(zip(shown.rows, shown.cells, strict=True)):
            top = 3 * AXIS_PX + i * CELL_HIGH_PX
            painter.setFont(self._font())
            painter.setPen(QColor(theme.soft))
            end = Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignRight
            painter.drawText(QRectF(0, top, left - 8, CELL_HIGH_PX), end, name)
            painter.setFont(self._font(bold=True))
            for k, cell in enumerate(cells):
                self._paint_cell(painter, QRectF(left + k * wide, top, wide, CELL_HIGH_PX).adjusted(1, 1, -1, -1), cell)
        painter.end()

    def _paint_cell(self, painter: QPainter, area: QRectF, cell: Cell) -> None:
        theme = self.theme
        painter.setPen(QPen(QColor(theme.ink), 2) if cell.framed else Qt.PenStyle.NoPen)
        painter.setBrush(QColor(getattr(theme, f"{cell.kind}_ground")))
        painter.drawRoundedRect(area.adjusted(1, 1, -1, -1) if cell.framed else area, 4, 4)
        painter.setPen(QColor(getattr(theme, f"{cell.kind}_ink")))
        painter.drawText(area, Qt.AlignmentFlag.AlignCenter, cell.text)
