"""A row of buttons that goes on in a second line where the window is narrow, instead of cutting words off."""

from __future__ import annotations

from PySide6.QtCore import QPoint, QRect, QSize, Qt
from PySide6.QtWidgets import QLayout, QLayoutItem, QWidget


class Flow(QLayout):
    """Items from left to right, as wide as they want to be, wrapped at the right edge."""

    def __init__(self, *things: QWidget, spacing_px: int = 8) -> None:
        super().__init__()
        self._items: list[QLayoutItem] = []
        self._gap = spacing_px
        self._wide = 0
        self.setContentsMargins(0, 0, 0, 0)
        for thing in things:
            self.addWidget(thing)

    def addItem(self, item: QLayoutItem) -> None:  # noqa: N802
        self._items.append(item)

    def count(self) -> int:
        return len(self._items)

    def itemAt(self, index: int) -> QLayoutItem | None:  # noqa: N802
        return self._items[index] if 0 <= index < len(self._items) else None

    def takeAt(self, index: int) -> QLayoutItem | None:  # noqa: N802
        return self._items.pop(index) if 0 <= index < len(self._items) else None

    def expandingDirections(self) -> Qt.Orientation:  # noqa: N802
        return Qt.Orientation(0)

    def hasHeightForWidth(self) -> bool:  # noqa: N802
        return True

    def heightForWidth(self, width: int) -> int:  # noqa: N802
        return self._place(QRect(0, 0, width, 0), move=False)

    def setGeometry(self, rect: QRect) -> None:  # noqa: N802
        # Not geometry(): invalidating a layout forgets it, and this would go round for ever.
        other = rect.width() != self._wide
        self._wide = rect.width()
        super().setGeometry(rect)
        self._place(rect, move=True)
        if other:
            # How many lines there are has perhaps changed, and with it what the things around may take.
            self.invalidate()

    def sizeHint(self) -> QSize:  # noqa: N802
        return self.minimumSize()

    def minimumSize(self) -> QSize:  # noqa: N802
        size = QSize(0, 0)
        for item in self._items:
            size = size.expandedTo(item.minimumSize().expandedTo(QSize(0, item.sizeHint().height())))
        return size.expandedTo(QSize(0, self.heightForWidth(self._wide))) if self._wide > 0 else size

    def _place(self, rect: QRect, *, move: bool) -> int:
        x, y, tallest = rect.x(), rect.y(), 0
        for item in self._items:
            widget = item.widget()
            if widget is not None and widget.isHidden():
                continue
            wanted = item.sizeHint()
            if x > rect.x() and x + wanted.width() > rect.right() + 1:
                x, y, tallest = rect.x(), y + tallest + self._gap, 0
            if move:
                item.setGeometry(QRect(QPoint(x, y), wanted))
            x += wanted.width() + self._gap
            tallest = max(tallest, wanted.height())
        return y + tallest - rect.y()
