"""The matrix: runs down, strategies across; every cell is a sign in a colour, and opens the run where it failed."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, QRectF, Qt, Signal
from PySide6.QtGui import QColor, QFocusEvent, QFont, QPainter, QPen
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QStyledItemDelegate, QStyleOptionViewItem, QTableView, QWidget

from gui.model.matrix import VARIANT, Matrix
from gui.panels.verdict_table import SIGNS, cause_in_short, cause_words, outcome_words
from gui.theme import Theme
from gui.words import tr
from telemetry.replay.scoring.results import ROBOT, Result
from telemetry.replay.scoring.score import Outcome

Index = QModelIndex | QPersistentModelIndex
CELL_PX = 30
LEAST_COLUMN_PX = 72
LONG_NAME = 10


class MatrixModel(QAbstractTableModel):
    """The matrix as a table."""

    def __init__(self, matrix: Matrix, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.matrix = matrix
        matrix.changed.connect(self._reset)
        matrix.filled.connect(self._row_filled)
        matrix.cause_found.connect(self._cause_found)

    def _reset(self) -> None:
        self.beginResetModel()
        self.endResetModel()

    def _row_filled(self, path: object) -> None:
        assert isinstance(path, Path)
        if path in self.matrix.paths:
            row = self.matrix.paths.index(path)
            self.dataChanged.emit(self.index(row, 0), self.index(row, self.columnCount() - 1))
            self.headerDataChanged.emit(Qt.Orientation.Horizontal, 0, self.columnCount() - 1)

    def _cause_found(self, path: object) -> None:
        if path in self.matrix.paths:
            row = self.matrix.paths.index(path)
            self.headerDataChanged.emit(Qt.Orientation.Vertical, row, row)

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: N802, B008
        return 0 if parent.isValid() else len(self.matrix.paths)

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: N802, B008
        return 0 if parent.isValid() else len(self.matrix.columns)

    def result(self, index: Index) -> Result | None:
        return self.matrix.result(self.matrix.paths[index.row()], self.matrix.columns[index.column()])

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole) -> Any:  # noqa: N802
        if orientation == Qt.Orientation.Vertical:
            path = self.matrix.paths[section]
            cause = self.matrix.causes.get(path)
            if role == Qt.ItemDataRole.DisplayRole:
                return f"{path.stem}   {cause_in_short(cause, read=self.matrix.is_read(path))}".rstrip()
            return cause_words(cause) if role == Qt.ItemDataRole.ToolTipRole else None
        column = self.matrix.columns[section]
        if role == Qt.ItemDataRole.DisplayRole:
            summary = self.matrix.summary(column)
            name = {VARIANT: tr("{name} changed", name=self.matrix.base), ROBOT: tr("the robot")}.get(column, column)
            counted = f"{summary.correct}/{summary.runs}" if summary.runs else "–"
            return f"{_in_two(name)}\n{counted}"
        if role == Qt.ItemDataRole.ToolTipRole:
            return self.matrix.variant_spec if column == VARIANT else column
        return None

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        result = self.result(index)
        path = self.matrix.paths[index.row()]
        if role == Qt.ItemDataRole.ToolTipRole:
            score = result.score if result is not None else None
            wrong = sum(slot != "right" for slot in score.slots) if score is not None else 0
            said = outcome_words(result) if result is not None else ""
            return self.matrix.problems.get(path) or (tr("{said}, {n} slots", said=said, n=wrong) if wrong else said)
        if role == Qt.ItemDataRole.AccessibleTextRole:
            words = outcome_words(result) if result is not None else tr("not worked out")
            return f"{path.stem}, {self.matrix.columns[index.column()]}: {words}"
        return None


def _in_two(name: str) -> str:
    """A long name on two lines, so that more strategies find room side by side."""
    breaks = [at + 1 for at, letter in enumerate(name) if letter in "- "]
    if len(name) < LONG_NAME or not breaks:
        return name
    at = min(breaks, key=lambda place: abs(place - len(name) / 2))
    return f"{name[:at].rstrip(' ')}\n{name[at:]}"


class _Cell(QStyledItemDelegate):
    """A sign on its ground; wrong cells also say how many slots went wrong."""

    def __init__(self, theme: Theme, parent: QWidget) -> None:
        super().__init__(parent)
        self.theme = theme

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        model = index.model()
        assert isinstance(model, MatrixModel)
        theme = self.theme
        area = QRectF(option.rect).adjusted(3, 2, -3, -2)
        result = model.result(index)
        view = self.parent()
        assert isinstance(view, QTableView)
        chosen = view.currentIndex() == index
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        ground, ink = theme.plot, theme.soft
        text = "…" if result is None else SIGNS[result.outcome]
        if model.matrix.problems.get(model.matrix.paths[index.row()]):
            text = "!"
        if result is not None and result.outcome is Outcome.RIGHT:
            ground, ink = theme.good_ground, theme.good_ink
        elif result is not None and result.outcome is Outcome.WRONG:
            ground, ink = theme.bad_ground, theme.bad_ink
            if result.score is not None:
                text = f"✗ {sum(slot != 'right' for slot in result.score.slots)}"
        painter.setPen(QPen(QColor(theme.leaf), 2) if chosen else Qt.PenStyle.NoPen)
        painter.setBrush(QColor(ground))
        painter.drawRoundedRect(area, 6, 6)
        font = QFont(painter.font())
        font.setPixelSize(14)
        font.setBold(True)
        painter.setFont(font)
        painter.setPen(QColor(ink))
        painter.drawText(area, Qt.AlignmentFlag.AlignCenter, text)
        painter.restore()


class MatrixView(QTableView):
    """Arrow keys go from cell to cell; Return or a double click opens the run at the failure."""

    cell_chosen = Signal(object, str)
    cell_opened = Signal(object, str)

    def __init__(self, matrix: Matrix, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.matrix = matrix
        self.cells = MatrixModel(matrix, self)
        self.setModel(self.cells)
        self._delegate = _Cell(theme, self)
        self.setItemDelegate(self._delegate)
        self.setProperty("kind", "matrix")
        self.setShowGrid(False)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setTabKeyNavigation(False)
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.verticalHeader().setDefaultSectionSize(CELL_PX)
        self.verticalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        header = self.horizontalHeader()
        header.setDefaultAlignment(Qt.AlignmentFlag.AlignCenter)
        header.setMinimumSectionSize(LEAST_COLUMN_PX)
        header.setSectionResizeMode(QHeaderView.ResizeMode.Stretch)
        header.setHighlightSections(True)
        self.setAccessibleName(tr("Runs and strategies"))
        self._last: tuple[Path, str] | None = None
        self._deaf = False
        self.selectionModel().currentChanged.connect(self._tell)
        self.cells.modelReset.connect(self._look_again)
        self.activated.connect(self._open)

    def set_theme(self, theme: Theme) -> None:
        self._delegate.theme = theme
        self.viewport().update()

    def chosen(self) -> tuple[Path, str] | None:
        """The cell looked at."""
        index = self.currentIndex()
        if not index.isValid():
            return None
        return self.matrix.paths[index.row()], self.matrix.columns[index.column()]

    def choose(self, path: Path, column: str) -> None:
        self.setCurrentIndex(self.cells.index(self.matrix.paths.index(path), self.matrix.columns.index(column)))

    def focusInEvent(self, event: QFocusEvent) -> None:  # noqa: N802
        """The keyboard is here; no cell is chosen by that (Qt would take the first)."""
        nothing = not self.currentIndex().isValid()
        self._deaf = nothing
        super().focusInEvent(event)
        if nothing:
            self.setCurrentIndex(QModelIndex())
        self._deaf = False

    def keyboardSearch(self, _search: str) -> None:  # noqa: N802
        """A letter chooses no cell."""

    def _look_again(self) -> None:
        """Other runs or columns: the cell looked at stays, where it is there still."""
        if self._last is not None and self._last[0] in self.matrix.paths and self._last[1] in self.matrix.columns:
            self.choose(*self._last)

    def _tell(self, current: QModelIndex, _before: QModelIndex) -> None:
        if current.isValid() and not self._deaf:
            self._last = self.matrix.paths[current.row()], self.matrix.columns[current.column()]
            self.cell_chosen.emit(*self._last)
        self.viewport().update()

    def _open(self, index: QModelIndex) -> None:
        if index.isValid():
            self.cell_opened.emit(self.matrix.paths[index.row()], self.matrix.columns[index.column()])
