"""The library as a table: thousands of runs, filtered as one types."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from PySide6.QtCore import (
    QAbstractTableModel,
    QItemSelectionModel,
    QModelIndex,
    QPersistentModelIndex,
    QRectF,
    QSize,
    Qt,
    Signal,
)
from PySide6.QtGui import QPainter
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHeaderView,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableView,
    QWidget,
)

from gui.swatches import SwatchBook, paint_swatch
from gui.words import tr
from telemetry.recording.library import Entry

Index = QModelIndex | QPersistentModelIndex
COURSE_COLUMN = 2
TRUTH_COLUMN = 4
SWATCH_PX = 20


class RunsModel(QAbstractTableModel):
    """The entries as rows."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.entries: list[Entry] = []
        self._heads = [tr("run"), tr("when"), tr("course"), tr("length"), tr("what stood there"), tr("tags"), tr("state")]

    def show_entries(self, entries: list[Entry]) -> None:
        self.beginResetModel()
        self.entries = entries
        self.endResetModel()

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: N802, B008
        return 0 if parent.isValid() else len(self.entries)

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: N802, B008
        return 0 if parent.isValid() else len(self._heads)

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole) -> Any:  # noqa: N802
        if orientation == Qt.Orientation.Horizontal and role == Qt.ItemDataRole.DisplayRole:
            return self._heads[section]
        return None

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        entry = self.entries[index.row()]
        if role == Qt.ItemDataRole.DisplayRole:
            return self._text(entry, index.column())
        if role == Qt.ItemDataRole.ToolTipRole:
            return entry.problem or entry.remarks or entry.path
        if role == Qt.ItemDataRole.AccessibleTextRole and index.column() == TRUTH_COLUMN:
            return ", ".join(entry.truth or ()) or tr("not known")
        return None

    @staticmethod
    def _text(entry: Entry, column: int) -> str:
        if column == 0:
            return entry.title
        if column == 1:
            return entry.made[:16].replace("T", " ")
        if column == 2:
            return entry.course
        if column == 3:
            return tr("{s:.1f} s", s=entry.seconds) if entry.seconds else tr("{n} samples", n=entry.rows)
        if column == TRUTH_COLUMN:
            return "" if entry.truth else tr("not known")
        if column == 5:
            return ", ".join((*entry.tags, *((tr("simulated"),) if entry.simulated else ())))
        states = {"whole": "", "damaged": tr("! damaged"), "capturing": tr("● capturing"), "broken off": tr("! broken off")}
        return states[entry.state]


class _TruthDelegate(QStyledItemDelegate):
    """The truth as a row of small swatches with letters."""

    def __init__(self, book: SwatchBook, parent: QWidget) -> None:
        super().__init__(parent)
        self.book = book

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        super().paint(painter, option, index)
        model = index.model()
        assert isinstance(model, RunsModel)
        area: Any = option.rect
        for number, colour in enumerate(model.entries[index.row()].truth or ()):
            left = area.left() + 8 + number * (SWATCH_PX + 3)
            if left + SWATCH_PX > area.right():
                return
            top = area.top() + (area.height() - SWATCH_PX) / 2
            paint_swatch(painter, QRectF(left, top, SWATCH_PX, SWATCH_PX), self.book.of(colour), radius=4)

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:  # noqa: N802
        model = index.model()
        assert isinstance(model, RunsModel)
        count = len(model.entries[index.row()].truth or ())
        return QSize(max(16 + count * (SWATCH_PX + 3), 90), super().sizeHint(option, index).height())


class RunsTable(QTableView):
    """Rows of runs; several can be chosen. ``typed``: letters that are meant to be searched for."""

    typed = Signal(str)

    def __init__(self, book: SwatchBook, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.runs = RunsModel(self)
        self.setModel(self.runs)
        self.setItemDelegateForColumn(TRUTH_COLUMN, _TruthDelegate(book, self))
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        self.setShowGrid(False)
        self.setAlternatingRowColors(True)
        self.setTabKeyNavigation(False)
        self.verticalHeader().hide()
        self.verticalHeader().setDefaultSectionSize(32)
        header = self.horizontalHeader()
        header.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft)
        header.setHighlightSections(False)
        header.setResizeContentsPrecision(60)
        header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        header.setStretchLastSection(True)
        header.setMinimumSectionSize(60)
        self.setAccessibleName(tr("Recorded runs"))

    def show_entries(self, entries: list[Entry]) -> None:
        """Show these; what was chosen stays chosen where it is still there."""
        before = set(self.chosen())
        self.runs.show_entries(entries)
        # Where all say the same, the room is for the tags.
        self.setColumnHidden(COURSE_COLUMN, len({entry.course for entry in entries}) < 2)
        self._select([row for row, entry in enumerate(entries) if Path(entry.path) in before])

    def keyboardSearch(self, search: str) -> None:  # noqa: N802
        """Qt would jump to the next name that begins so, which does not help with names that are dates."""
        if search.strip():
            self.typed.emit(search)

    def _select(self, rows: list[int]) -> None:
        """These rows and no others, whatever keys are held down."""
        model = self.selectionModel()
        model.clearSelection()
        flags = QItemSelectionModel.SelectionFlag.Select | QItemSelectionModel.SelectionFlag.Rows
        for row in rows:
            model.select(self.runs.index(row, 0), flags)
        if rows:
            model.setCurrentIndex(self.runs.index(rows[0], 0), QItemSelectionModel.SelectionFlag.NoUpdate)

    def chosen(self) -> list[Path]:
        """The chosen runs, in the order of the table."""
        rows = sorted(index.row() for index in self.selectionModel().selectedRows())
        return [Path(self.runs.entries[row].path) for row in rows if row < len(self.runs.entries)]

    def choose(self, path: Path | None = None) -> None:
        """Choose this run alone; without a path the first one."""
        for row, entry in enumerate(self.runs.entries):
            if path is None or Path(entry.path) == path:
                self._select([row])
                return
