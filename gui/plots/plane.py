"""The chromaticity plane: every colour of a palette with its spread, and the sample that the sensor sees now."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QFont
from PySide6.QtWidgets import QVBoxLayout, QWidget

from gui.swatches import SwatchBook
from gui.theme import Theme
from gui.words import tr
from telemetry.calibrate.plane import spots
from telemetry.palette import Palette
from telemetry.palette_default import look

CLOSE = 0.06
"""Names of colours that lie closer than this would be written over each other: the upper one's goes above."""


class Plane(QWidget):
    """Red share across, green share up. Ellipses hold about 86 of 100 single samples (two deviations in the plane)."""

    def __init__(self, book: SwatchBook, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.book = book
        self.theme = theme
        self.palette_shown: Palette | None = None
        self.plot = pg.PlotWidget()
        self.plot.setMenuEnabled(False)
        self.plot.hideButtons()
        self.plot.setMouseEnabled(x=False, y=False)  # it shows all there is: the wheel over it scrolls the page
        self.plot.setFocusPolicy(Qt.FocusPolicy.NoFocus)  # there is nothing in it that a key does
        self.plot.viewport().setFocusPolicy(Qt.FocusPolicy.NoFocus)
        for side, words in (("bottom", tr("share of red")), ("left", tr("share of green"))):
            axis = self.plot.getAxis(side)
            axis.enableAutoSIPrefix(False)
            axis.setLabel(words)
        self._now = pg.ScatterPlotItem(size=13, symbol="x")
        self._today = pg.ScatterPlotItem(size=17, symbol="d")
        self.today: list[str] = []
        """Colours of which today's place is shown."""
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.plot)
        self.setAccessibleName(tr("Colours in the chromaticity plane"))
        self.setMinimumSize(280, 200)
        self.set_theme(theme)

    def set_theme(self, theme: Theme) -> None:
        self.theme = theme
        self.plot.setBackground(theme.card)
        for side in ("bottom", "left"):
            axis = self.plot.getAxis(side)
            axis.setPen(pg.mkPen(theme.soft))
            axis.setTextPen(pg.mkPen(theme.soft))
            axis.setLabel(axis.labelText, color=theme.soft)
        self._now.setPen(pg.mkPen(theme.ink, width=2.5))
        if self.palette_shown is not None:
            self.show_palette(self.palette_shown)

    def show_palette(self, palette: Palette) -> None:
        """Draw all colours of ``palette``."""
        self.palette_shown = palette
        self.plot.clear()
        self.plot.addItem(self._now)
        self.plot.addItem(self._today)
        words = []
        all_spots = spots(palette)
        for number, spot in enumerate(all_spots):
            swatch = self.book.of(spot.name)
            outline = spot.outline()
            fill = QColor(swatch.fill)
            fill.setAlphaF(0.45)
            ellipse = pg.PlotCurveItem(
                outline[:, 0],
                outline[:, 1],
                pen=pg.mkPen(self.theme.ink, width=1),
                fillLevel=float(spot.middle[1]),
                brush=pg.mkBrush(fill),
            )
            self.plot.addItem(ellipse)
            dot = pg.ScatterPlotItem(
                [spot.middle[0]], [spot.middle[1]], size=17, brush=pg.mkBrush(swatch.fill), pen=pg.mkPen(self.theme.ink)
            )
            self.plot.addItem(dot)
            letter = pg.TextItem(swatch.letter, color=swatch.ink, anchor=(0.5, 0.5))
            font = QFont(self.font())
            font.setPixelSize(11)
            font.setBold(True)
            letter.setFont(font)
            letter.setPos(*spot.middle)
            self.plot.addItem(letter)
            # Of two names that would lie on each other the lower one goes below; at the same height the earlier one.
            above = any(
                np.hypot(*(spot.middle - other.middle)) < CLOSE and (spot.middle[1], at) > (other.middle[1], number)
                for at, other in enumerate(all_spots)
                if at != number
            )
            name = pg.TextItem(spot.name, color=self.theme.ink, anchor=(0.5, 1.5 if above else -0.5))
            name.setPos(*spot.middle)
            self.plot.addItem(name)
            words.append(f"{spot.name} {spot.middle[0]:.2f}, {spot.middle[1]:.2f}")
        self.setAccessibleDescription("; ".join(words))
        self.plot.autoRange(padding=0.18)

    def show_today(self, captured: Sequence[tuple[str, tuple[float, ...]]]) -> None:
        """Diamonds where colours lie today: (name, red, green and blue as sent) each. Empty: none."""
        spots_today = []
        self.today = []
        for name, raw in captured:
            if self.palette_shown is not None and np.isfinite(raw).all():
                shares = look(np.array([raw]), self.palette_shown.ranges)[0]
                fill = pg.mkBrush(self.book.of(name).fill)
                spots_today.append({"pos": (shares[0], shares[1]), "brush": fill, "pen": pg.mkPen(self.theme.ink, width=2)})
                self.today.append(name)
        self._today.setData(spots_today)

    def show_now(self, raw: tuple[float, float, float]) -> None:
        """Where the sample of this moment lies."""
        if self.palette_shown is None or not np.isfinite(raw).all():
            self._now.setData([], [])
            return
        shares = look(np.array([raw]), self.palette_shown.ranges)[0]
        self._now.setData([shares[0]], [shares[1]])
