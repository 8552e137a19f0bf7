"""The matrix: runs down, strategies across; every cell is a sign in a colour, and opens the run where it failed."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, QRectF, Qt, Signal
from PySide6.QtGui import QColor, QFocusEvent, QFont, QPainter, QPen, QResizeEvent
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QStyledItemDelegate, QStyleOptionViewItem, QTableView, QWidget

from gui.model.matrix import VARIANT, Matrix
from gui.panels.matrix_header import LEAST_COLUMN_PX, StrategyHeader
from gui.panels.verdict_table import SIGNS, cause_in_short, cause_words, outcome_words
from gui.plain_text import tip
from gui.theme import Theme
from gui.words import tr
from telemetry.reading.strategies import STRATEGIES
from telemetry.replay.scoring.results import ROBOT, Result, ranked
from telemetry.replay.scoring.score import Outcome

Index = QModelIndex | QPersistentModelIndex
CELL_PX = 30
NAMES_PX = 60
"""Of the runs' names this much is always shown."""
EDGE_PX = 12
LONG_NAME = 10


class MatrixModel(QAbstractTableModel):
    """The matrix as a table."""

    def __init__(self, matrix: Matrix, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.matrix = matrix
        self.unfolded = False
        """Strategies that judge none of the runs are shown, too."""
        self.shown: list[str] = list(matrix.columns)
        """The columns: the robot and the strategy in use first, then the best."""
        matrix.changed.connect(self._reset)
        matrix.filled.connect(self._row_filled)
        matrix.cause_found.connect(self._cause_found)

    def _reset(self) -> None:
        """Other columns or runs: a column that was there stays where it was until all is worked out."""
        columns = self.matrix.columns
        self.beginResetModel()
        known = [column for column in self.shown if column in columns]
        self.shown = known + [column for column in columns if column not in known and column not in self.matrix.idle()]
        self._beside_its_base()
        self.endResetModel()

    def rearrange(self) -> None:
        """All is worked out: the robot and the strategy in use, then the best first; what does not apply is folded away."""
        matrix = self.matrix
        idle = [] if self.unfolded else matrix.idle()
        best = [one.strategy for one in ranked([matrix.summary(column) for column in matrix.columns])]
        pinned = [column for column in (ROBOT, matrix.in_use) if column in matrix.columns]
        wanted = [*pinned, *(one for one in best if one not in pinned and one not in idle)]
        before = self.shown
        self.shown = wanted
        self._beside_its_base()
        if self.shown != before:
            self.beginResetModel()
            self.endResetModel()

    def _beside_its_base(self) -> None:
        """What is tried out stands beside the strategy that it changes."""
        if VARIANT in self.shown and self.matrix.base in self.shown:
            self.shown.remove(VARIANT)
            self.shown.insert(self.shown.index(self.matrix.base) + 1, VARIANT)

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
        return 0 if parent.isValid() else len(self.shown)

    def result(self, index: Index) -> Result | None:
        return self.matrix.result(self.matrix.paths[index.row()], self.shown[index.column()])

    def has_changed(self, index: Index) -> bool:
        """Whether what is tried out reads this run otherwise than the strategy as it is."""
        if self.shown[index.column()] != VARIANT:
            return False
        result = self.result(index)
        base = self.matrix.result(self.matrix.paths[index.row()], self.matrix.base)
        return result is not None and base is not None and result.outcome is not base.outcome

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole) -> Any:  # noqa: N802
        if orientation == Qt.Orientation.Vertical:
            path = self.matrix.paths[section]
            cause = self.matrix.causes.get(path)
            if role == Qt.ItemDataRole.DisplayRole:
                short = cause_in_short(cause, read=self.matrix.is_read(path))
                return tr("{run}   cause: {cause}", run=path.stem, cause=short) if short else path.stem
            return tip(f"{path.stem}\n{cause_words(cause)}".strip()) if role == Qt.ItemDataRole.ToolTipRole else None
        column = self.shown[section]
        if role == Qt.ItemDataRole.DisplayRole:
            summary = self.matrix.summary(column)
            name = {VARIANT: tr("{name} changed", name=self.matrix.base), ROBOT: tr("the robot")}.get(column, column)
            counted = f"{summary.correct}/{summary.runs}" if summary.runs else "–"
            star = "★ " if column == self.matrix.in_use else ""
            return f"{_in_two(name)}\n{star}{counted}"
        if role == Qt.ItemDataRole.ToolTipRole:
            return tip(self._about(column))
        return None

    def _about(self, column: str) -> str:
        """What a strategy does, where the pointer rests on its name."""
        if column == VARIANT:
            return self.matrix.variant_spec
        what = STRATEGIES[column].what if column in STRATEGIES else column
        return tr("{what} (in use)", what=what) if column == self.matrix.in_use else what

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        result = self.result(index)
        path = self.matrix.paths[index.row()]
        if role == Qt.ItemDataRole.ToolTipRole:
            score = result.score if result is not None else None
            wrong = sum(slot != "right" for slot in score.slots) if score is not None else 0
            said = outcome_words(result) if result is not None else ""
            return tip(self.matrix.problems.get(path) or (tr("{said}, {n} slots", said=said, n=wrong) if wrong else said))
        if role == Qt.ItemDataRole.AccessibleTextRole:
            words = outcome_words(result) if result is not None else tr("not worked out")
            return f"{path.stem}, {self.shown[index.column()]}: {words}"
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
        painter.setPen(Qt.PenStyle.NoPen)
        if model.has_changed(index):  # by what is tried out
            painter.setPen(QPen(QColor(theme.ink), 2, Qt.PenStyle.DashLine))
        if chosen:
            painter.setPen(QPen(QColor(theme.leaf), 2))
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
        self.verticalHeader().setTextElideMode(Qt.TextElideMode.ElideMiddle)
        self.heads = StrategyHeader(self)
        self.heads.setDefaultAlignment(Qt.AlignmentFlag.AlignCenter)
        self.setHorizontalHeader(self.heads)
        self.setAccessibleName(tr("Runs and strategies"))
        self._last: tuple[Path, str] | None = None
        self._deaf = False
        self.selectionModel().currentChanged.connect(self._tell)
        self.cells.modelReset.connect(self._look_again)
        self.cells.modelReset.connect(self.fit)
        self.cells.headerDataChanged.connect(lambda *_what: self.fit())
        self.activated.connect(self._open)

    def set_theme(self, theme: Theme) -> None:
        self._delegate.theme = theme
        self.viewport().update()

    def fit(self) -> None:
        """All columns in view: first the names of the strategies stand upright, then the names of the runs are cut short."""
        names = self.verticalHeader()
        bar = self.verticalScrollBar().sizeHint().width() + EDGE_PX
        room, count = self.width() - bar, max(len(self.cells.shown), 1)
        natural = names.sizeHint().width()
        level = self.heads.level_width() * count
        most = max(NAMES_PX, room - (level if natural + level <= room else LEAST_COLUMN_PX * count))
        names.setMaximumWidth(most)
        self.heads.fit(room - min(natural, most))

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        super().resizeEvent(event)
        self.fit()

    def chosen(self) -> tuple[Path, str] | None:
        """The cell looked at."""
        index = self.currentIndex()
        if not index.isValid():
            return None
        return self.matrix.paths[index.row()], self.cells.shown[index.column()]

    def choose(self, path: Path, column: str) -> None:
        if column in self.cells.shown:
            self.setCurrentIndex(self.cells.index(self.matrix.paths.index(path), self.cells.shown.index(column)))

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
        if self._last is not None and self._last[0] in self.matrix.paths and self._last[1] in self.cells.shown:
            self.choose(*self._last)

    def _tell(self, current: QModelIndex, _before: QModelIndex) -> None:
        if current.isValid() and not self._deaf:
            self._last = self.matrix.paths[current.row()], self.cells.shown[current.column()]
            self.cell_chosen.emit(*self._last)
        self.viewport().update()

    def _open(self, index: QModelIndex) -> None:
        if index.isValid():
            self.cell_opened.emit(self.matrix.paths[index.row()], self.cells.shown[index.column()])
