"""The colours to capture, one row each: done and steady, to be taken again, or still to come."""

from __future__ import annotations

from PySide6.QtCore import QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFont, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from gui.model.calibration import Calibration
from gui.swatches import SwatchBook, paint_swatch
from gui.theme import Theme
from gui.words import tr
from telemetry.calibrate.guided import CaptureStep

ROW_PX = 31


class StepsList(QWidget):
    """``chosen`` tells which step was tapped: it is taken (again) next."""

    chosen = Signal(int)

    def __init__(self, calibration: Calibration, book: SwatchBook, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.calibration = calibration
        self.book = book
        self.theme = theme
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName(tr("Colours to capture"))
        calibration.changed.connect(self._changed)

    def sizeHint(self) -> QSize:  # noqa: N802
        return QSize(300, ROW_PX * max(len(self.calibration.steps), 1))

    def minimumSizeHint(self) -> QSize:  # noqa: N802
        return QSize(240, ROW_PX * max(len(self.calibration.steps), 1))

    def set_theme(self, theme: Theme) -> None:
        self.theme = theme
        self.update()

    def state(self, step: CaptureStep) -> str:
        """What is said of a step, with its sign."""
        capture = self.calibration.captures.get(step)
        if capture is None:
            return ""
        if capture.doubts:
            return tr("! capture again")
        return tr("✓ {n} samples, steady", n=capture.samples)

    def _changed(self) -> None:
        self.setAccessibleDescription("; ".join(f"{step.colour} {self.state(step)}" for step in self.calibration.steps))
        self.updateGeometry()
        self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:  # noqa: N802
        theme = self.theme
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        font = QFont(self.font())
        font.setPixelSize(15)
        small = QFont(font)
        small.setPixelSize(13)
        for number, step in enumerate(self.calibration.steps):
            row = QRectF(0, number * ROW_PX, self.width(), ROW_PX)
            if number == self.calibration.at:
                painter.setPen(QPen(QColor(theme.leaf), 2) if self.hasFocus() else Qt.PenStyle.NoPen)
                painter.setBrush(QColor(theme.leaf_wash))
                painter.drawRoundedRect(row.adjusted(1, 1, -1, -1), 7, 7)
            paint_swatch(painter, QRectF(8, row.top() + 4, 23, 23), self.book.of(step.colour), radius=5)
            painter.setFont(font)
            painter.setPen(QColor(theme.ink))
            height = f"  {step.height_mm:g} mm" if step.height_mm is not None else ""
            name = tr("empty field") if step.colour == "none" else step.colour
            painter.drawText(row.adjusted(42, 0, 0, 0), int(Qt.AlignmentFlag.AlignVCenter), name + height)
            named_px = 42 + painter.fontMetrics().horizontalAdvance(name + height) + 8
            painter.setFont(small)
            painter.setPen(QColor(theme.soft))
            flags = int(Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignRight)
            said = self.state(step)
            if painter.fontMetrics().horizontalAdvance(said) > row.width() - 10 - named_px:
                said = said.split(", ")[-1] if said[:1] != "✓" else f"✓ {said.split(', ')[-1]}"
            painter.drawText(row.adjusted(0, 0, -10, 0), flags, said)
        painter.end()

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: N802
        self.chosen.emit(int(event.position().y() // ROW_PX))

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802
        step = {Qt.Key.Key_Down: 1, Qt.Key.Key_Up: -1}.get(Qt.Key(event.key()))
        if step is None:
            super().keyPressEvent(event)
            return
        self.chosen.emit(min(max(self.calibration.at + step, 0), len(self.calibration.steps) - 1))
