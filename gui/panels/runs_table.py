"""The library as a table: thousands of runs, by session, each with its result and a small picture of what was seen."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import (
    QItemSelection,
    QItemSelectionModel,
    QModelIndex,
    QPersistentModelIndex,
    QPointF,
    QRectF,
    QSize,
    Qt,
    Signal,
)
from PySide6.QtGui import QColor, QFont, QPainter, QResizeEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHeaderView,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableView,
    QWidget,
)

from gui.model.standings import Standings
from gui.panels.runs_model import (
    COURSE,
    LENGTH,
    RESULT,
    ROBOT_SAID,
    RUN,
    SEEN,
    TAGS,
    TRUTH,
    WHEN,
    RunsModel,
    result_words,
    robot_words,
)
from gui.swatches import SwatchBook, fill_of, swatch_pixmap
from gui.theme import Theme
from gui.words import tr
from telemetry.recording.library import Entry

Index = QModelIndex | QPersistentModelIndex
SWATCH_PX = 20
ROW_PX = 34
SEEN_PX, SEEN_NARROW_PX = 156, 96
RESULT_PX, ROBOT_PX = 132, 98
TAGS_FROM_PX, LENGTH_FROM_PX, SEEN_FROM_PX, TRUTH_FROM_PX = 1010, 930, 910, 700
WHEN_FROM_PX = 620


class _RowDelegate(QStyledItemDelegate):
    """Paints chip, picture and colours; and a heading over the whole row."""

    def __init__(self, table: RunsTable) -> None:
        super().__init__(table)
        self.table = table

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        row = self.table.runs.rows[index.row()]
        area = QRectF(option.rect)
        if isinstance(row, str):
            self._heading(painter, area, row)
            return
        super().paint(painter, option, index)
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        standing = self.table.runs.standings.of(row)
        if index.column() == RESULT:
            self._chip(painter, area, standing.kind if standing is not None else "", result_words(standing, row))
        elif index.column() == ROBOT_SAID:
            self._chip(painter, area, standing.robot if standing is not None else "", robot_words(standing))
        elif index.column() == SEEN:
            self._picture(painter, area, row)
        elif index.column() == TRUTH:
            ratio = self.table.devicePixelRatioF()
            for number, colour in enumerate(row.truth or ()):
                left = area.left() + 8 + number * (SWATCH_PX + 3)
                if left + SWATCH_PX > area.right():
                    break
                at = QPointF(left, area.top() + (area.height() - SWATCH_PX) / 2)
                painter.drawPixmap(at, swatch_pixmap(self.table.book.of(colour), SWATCH_PX, SWATCH_PX, ratio))
        painter.restore()

    def _heading(self, painter: QPainter, area: QRectF, text: str) -> None:
        theme = self.table.theme
        painter.save()
        painter.fillRect(area, QColor(theme.ground))
        font = QFont(painter.font())
        font.setPixelSize(13)
        font.setBold(True)
        painter.setFont(font)
        painter.setPen(QColor(theme.soft))
        painter.drawText(area.adjusted(10, 0, -8, 0), Qt.AlignmentFlag.AlignVCenter, text)
        painter.restore()

    def _chip(self, painter: QPainter, area: QRectF, kind: str, words: str) -> None:
        if not words:
            return
        theme = self.table.theme
        ground, ink = theme.plot, theme.soft
        if kind == "right":
            ground, ink = theme.good_ground, theme.good_ink
        elif kind in ("wrong", "damaged"):
            ground, ink = theme.bad_ground, theme.bad_ink
        elif kind in ("early", "open"):
            ground, ink = theme.warn_ground, theme.warn_ink
        chip = QRectF(area.left() + 4, area.top() + 5, area.width() - 8, area.height() - 10)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(ground))
        painter.drawRoundedRect(chip, 7, 7)
        font = QFont(painter.font())
        font.setPixelSize(13)
        font.setBold(True)
        painter.setFont(font)
        painter.setPen(QColor(ink))
        painter.drawText(chip.adjusted(9, 0, 0, 0), Qt.AlignmentFlag.AlignVCenter, words)

    def _picture(self, painter: QPainter, area: QRectF, entry: Entry) -> None:
        """The colours along the run as a band; where none was seen, the lane."""
        standing = self.table.runs.standings.of(entry)
        band = QRectF(area.left() + 6, area.center().y() - 7, area.width() - 14, 14)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(self.table.theme.grid))
        painter.drawRoundedRect(QRectF(band.left(), area.center().y() - 1.5, band.width(), 3), 1.5, 1.5)
        if standing is None or not standing.seen:
            return
        wide = band.width() / len(standing.seen)
        for number, colour in enumerate(standing.seen):
            if colour != "none":
                painter.fillRect(QRectF(band.left() + number * wide, band.top(), wide + 0.5, band.height()),
                                 QColor(fill_of(colour)))  # fmt: skip

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:  # noqa: N802
        entry = self.table.runs.entry(index.row())
        if entry is None:
            return QSize(40, ROW_PX)
        if index.column() == TRUTH:
            return QSize(max(16 + len(entry.truth or ()) * (SWATCH_PX + 3), 90), ROW_PX)
        return super().sizeHint(option, index)


class RunsTable(QTableView):
    """Rows of runs; several can be chosen. ``typed``: letters that are meant to be searched for."""

    typed = Signal(str)

    def __init__(self, book: SwatchBook, theme: Theme, standings: Standings, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.book = book
        self.theme = theme
        self.runs = RunsModel(standings, self)
        self.setModel(self.runs)
        self.setItemDelegate(_RowDelegate(self))
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        self.setShowGrid(False)
        self.setTabKeyNavigation(False)
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.verticalHeader().hide()
        self.verticalHeader().setDefaultSectionSize(ROW_PX)
        header = self.horizontalHeader()
        header.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft)
        header.setHighlightSections(False)
        header.setResizeContentsPrecision(60)
        header.setMinimumSectionSize(50)
        for column in (RUN, TRUTH, WHEN, LENGTH, TAGS, COURSE):
            header.setSectionResizeMode(column, QHeaderView.ResizeMode.ResizeToContents)
        for column, wide in ((ROBOT_SAID, ROBOT_PX), (RESULT, RESULT_PX), (SEEN, SEEN_PX)):
            header.setSectionResizeMode(column, QHeaderView.ResizeMode.Fixed)
            header.resizeSection(column, wide)
        header.setStretchLastSection(True)
        self.setAccessibleName(tr("Recorded runs"))

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        """What tells least goes first where there is no room for all."""
        self.setColumnHidden(LENGTH, self.width() < LENGTH_FROM_PX)
        self.setColumnHidden(TAGS, self.width() < TAGS_FROM_PX)
        self.setColumnHidden(WHEN, self.width() < WHEN_FROM_PX)
        self.setColumnHidden(TRUTH, self.width() < TRUTH_FROM_PX)  # they stand below the list
        self.horizontalHeader().resizeSection(SEEN, SEEN_PX if self.width() >= SEEN_FROM_PX else SEEN_NARROW_PX)
        super().resizeEvent(event)

    def set_theme(self, theme: Theme) -> None:
        self.theme = theme
        self.viewport().update()

    def show_entries(self, entries: list[Entry]) -> None:
        """Show these; what was chosen stays chosen, and the list stays where it was scrolled to."""
        before, at = set(map(str, self.chosen())), self.verticalScrollBar().value()
        self.clearSpans()
        self.runs.show_entries(entries)
        for row, what in enumerate(self.runs.rows):
            if isinstance(what, str):
                self.setSpan(row, 0, 1, self.runs.columnCount())
        # Where all say the same, the room is for the tags.
        self.setColumnHidden(COURSE, len({entry.course for entry in entries}) < 2)
        self._select([self.runs.row_of[path] for path in before if path in self.runs.row_of])
        self.verticalScrollBar().setValue(at)

    def _select(self, rows: list[int]) -> None:
        """These rows and no others, whatever keys are held down."""
        model = self.selectionModel()
        chosen = QItemSelection()
        for row in sorted(rows):
            chosen.select(self.runs.index(row, 0), self.runs.index(row, self.runs.columnCount() - 1))
        model.select(chosen, QItemSelectionModel.SelectionFlag.ClearAndSelect)
        if rows:
            model.setCurrentIndex(self.runs.index(min(rows), 0), QItemSelectionModel.SelectionFlag.NoUpdate)

    def chosen(self) -> list[Path]:
        """The chosen runs, in the order of the table."""
        rows = sorted(index.row() for index in self.selectionModel().selectedRows())
        return [Path(entry.path) for row in rows if (entry := self.runs.entry(row)) is not None]

    def choose(self, *paths: Path) -> None:
        """Choose these runs and no others; without a path the first one."""
        if paths:
            self._select([self.runs.row_of[str(path)] for path in paths if str(path) in self.runs.row_of])
        elif self.runs.entries:
            self._select([self.runs.row_of[self.runs.entries[0].path]])

    def in_view(self) -> list[Entry]:
        """The runs on the screen and a few below."""
        first, last = self.rowAt(0), self.rowAt(self.viewport().height() - 1)
        last = len(self.runs.rows) - 1 if last < 0 else min(last + 10, len(self.runs.rows) - 1)
        return [entry for row in range(max(first, 0), last + 1) if (entry := self.runs.entry(row)) is not None]

    def keyboardSearch(self, search: str) -> None:  # noqa: N802
        """Qt would jump to the next name that begins so, which does not help with names that are dates."""
        if search.strip():
            self.typed.emit(search)
