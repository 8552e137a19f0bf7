"""The pairs of colours that may be confused, worst first, in words; the figures behind them on demand."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableWidget, QTableWidgetItem, QWidget

from gui.words import tr
from telemetry.calibrate.outlook import OFTEN, SELDOM, pairs
from telemetry.palette import Palette

SHOWN = 10
FIGURES = (2, 3, 4)


class RiskTable(QTableWidget):
    """Filled from a palette."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(0, 5, parent)
        self.setHorizontalHeaderLabels([tr("pair"), tr("in words"), tr("apart, σ"), "CIEDE2000", tr("confused")])
        self.verticalHeader().hide()
        self.verticalHeader().setDefaultSectionSize(30)
        self.setShowGrid(False)
        self.setTabKeyNavigation(False)  # Tab leads out of it
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setSelectionMode(QAbstractItemView.SelectionMode.NoSelection)
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        header = self.horizontalHeader()
        header.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft)
        header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        header.setStretchLastSection(True)
        self.setAccessibleName(tr("Pairs at risk"))
        self.show_figures(False)

    def show_figures(self, on: bool) -> None:
        """The figures behind the words, or the words alone."""
        for column in FIGURES:
            self.setColumnHidden(column, not on)

    def show_palette(self, palette: Palette) -> None:
        """Work out its pairs and show the worst."""
        found = pairs(palette)[:SHOWN]
        self.setRowCount(len(found))
        for number, pair in enumerate(found):
            sign = "✗" if pair.confusion > OFTEN else "!" if pair.confusion > SELDOM else "✓"
            texts = (
                f"{pair.first} / {pair.second}",
                f"{sign} {pair.verdict}",
                "–" if pair.by_raw is None else f"{pair.mahalanobis:.1f}",
                "–" if pair.ciede2000 is None else f"{pair.ciede2000:.1f}",
                f"{100 * pair.confusion:.1f} %",
            )
            for column, text in enumerate(texts):
                self.setItem(number, column, QTableWidgetItem(text))
