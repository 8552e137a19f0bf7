"""Rows of one kind of a course (legs, markers, groups, decoys), edited in place."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QPointF, QRectF, Qt, QTimer, Signal
from PySide6.QtGui import QMouseEvent, QPainter, QPalette, QPen
from PySide6.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QHeaderView,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableWidget,
    QTableWidgetItem,
    QWidget,
)

from gui.model.course_draft import FLAGS, CourseDraft


class EditColumn(NamedTuple):
    """``choices``: what may be chosen; something else may be typed where it is editable."""

    key: str
    title: str
    hint: str = ""
    choices: Callable[[], list[str]] | None = None


class _Choosing(QStyledItemDelegate):
    """A list to choose from where a column has one."""

    def __init__(self, table: RowsTable) -> None:
        super().__init__(table)
        self.table = table

    def paint(
        self, painter: QPainter, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> None:
        """A flag's box in the ink of the text: the style's own is not to be seen on a dark ground."""
        super().paint(painter, option, index)
        if self.table.columns[index.column()].key not in FLAGS:
            return
        whole = QStyleOptionViewItem(option)
        self.initStyleOption(whole, index)
        where = QStyle.SubElement.SE_ItemViewItemCheckIndicator
        area = QRectF(self.table.style().subElementRect(where, whole, self.table)).adjusted(1, 1, -1, -1)
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        palette = self.table.palette()
        ink = palette.color(QPalette.ColorRole.Text)
        painter.setPen(QPen(ink, 1.2))
        painter.setBrush(palette.color(QPalette.ColorRole.Base))
        painter.drawRoundedRect(area, 3, 3)
        if index.data(Qt.ItemDataRole.CheckStateRole) == Qt.CheckState.Checked.value:
            painter.setPen(QPen(ink, 2.0, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap, Qt.PenJoinStyle.RoundJoin))
            wide, high = area.width(), area.height()
            steps = ((0.22, 0.52), (0.42, 0.74), (0.78, 0.28))
            painter.drawPolyline([area.topLeft() + QPointF(x * wide, y * high) for x, y in steps])
        painter.restore()

    def createEditor(  # noqa: N802
        self, parent: QWidget, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> QWidget:
        choices = self.table.columns[index.column()].choices
        if choices is None:
            return super().createEditor(parent, option, index)
        box = QComboBox(parent)
        box.setEditable(True)
        box.setAccessibleName(self.table.columns[index.column()].title)
        if (field := box.lineEdit()) is not None:
            field.setAccessibleName(box.accessibleName())
        box.addItems(choices())
        box.view().setMinimumWidth(box.view().sizeHintForColumn(0) + 24)
        box.view().setAccessibleName(box.accessibleName())
        if self.table.double_clicked:
            QTimer.singleShot(0, box, box.showPopup)
        return box


class RowsTable(QTableWidget):
    """``edited`` comes with (row, key, text) when something was typed; the owner changes the draft and shows it again."""

    edited = Signal(int, str, str)
    row_chosen = Signal(int)

    def __init__(self, kind: str, name: str, columns: list[EditColumn], parent: QWidget | None = None) -> None:
        super().__init__(0, len(columns), parent)
        self.kind = kind
        self.columns = columns
        self.setHorizontalHeaderLabels([column.title for column in columns])
        for place, column in enumerate(columns):
            item = self.horizontalHeaderItem(place)
            if item is not None:
                item.setToolTip(column.hint)
        self.setAccessibleName(name)
        self.setItemDelegate(_Choosing(self))
        self.verticalHeader().hide()
        self.verticalHeader().setDefaultSectionSize(32)
        self.setShowGrid(False)
        self.setTabKeyNavigation(False)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(
            QAbstractItemView.EditTrigger.DoubleClicked
            | QAbstractItemView.EditTrigger.AnyKeyPressed
            | QAbstractItemView.EditTrigger.EditKeyPressed
        )
        header = self.horizontalHeader()
        header.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft)
        header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        header.setStretchLastSection(True)
        header.setMinimumSectionSize(54)
        header.setHighlightSections(False)
        self.double_clicked = False
        self._showing = False
        self.cellChanged.connect(self._changed)
        self.currentCellChanged.connect(lambda row, *_: None if self._showing else self.row_chosen.emit(row))

    def show_draft(self, draft: CourseDraft) -> None:
        """Show the rows; the cell looked at stays the same."""
        self._showing = True
        rows = draft.rows(self.kind)
        self.setRowCount(len(rows))
        for row in range(len(rows)):
            for place, column in enumerate(self.columns):
                text = draft.cell(self.kind, row, column.key)
                item = self.item(row, place) or QTableWidgetItem()
                if column.key in FLAGS:
                    item.setFlags(Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable | Qt.ItemFlag.ItemIsUserCheckable)
                    item.setCheckState(Qt.CheckState.Checked if text else Qt.CheckState.Unchecked)
                else:
                    item.setText(text)
                if self.item(row, place) is None:
                    self.setItem(row, place, item)
        self._showing = False

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:  # noqa: N802
        """By mouse, what may be chosen opens at once; by keys it is typed, or opened by Alt and the arrow down."""
        self.double_clicked = True
        super().mouseDoubleClickEvent(event)
        self.double_clicked = False

    def choose(self, row: int) -> None:
        """Look at a row without telling it."""
        self._showing = True
        self.setCurrentCell(row, max(self.currentColumn(), 0))
        self._showing = False

    def _changed(self, row: int, place: int) -> None:
        item = self.item(row, place)
        if self._showing or item is None:
            return
        key = self.columns[place].key
        checked = item.checkState() == Qt.CheckState.Checked
        self.edited.emit(row, key, ("yes" if checked else "") if key in FLAGS else item.text())
