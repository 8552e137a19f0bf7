"""A row of buttons that goes on in a second line where the window is narrow, instead of cutting words off."""

from __future__ import annotations

from PySide6.QtCore import QPoint, QRect, QSize, Qt
from PySide6.QtWidgets import QLayout, QLayoutItem, QWidget


class FlowLayout(QLayout):
    """Items from left to right, as wide as they want to be and at most as the whole, wrapped at the right edge."""

    def __init__(self, *things: QWidget, spacing_px: int = 8, one_line: bool = False) -> None:
        """``one_line``: that is what it asks for; it makes do with less."""
        super().__init__()
        self._one_line = one_line
        self._items: list[QLayoutItem] = []
        self._gap = spacing_px
        self._wide = 0
        self._heights: dict[int, int] = {}
        """For widths that were asked for, until something changes."""
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
        if width not in self._heights:
            self._heights[width] = self._place(QRect(0, 0, width, 0), move=False)
        return self._heights[width]

    def invalidate(self) -> None:
        """Something in it has changed."""
        self._heights.clear()
        super().invalidate()

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
        least = self.minimumSize()
        if not self._one_line:
            return least
        wide = sum(item.sizeHint().width() + self._gap for item in self._items) - self._gap
        return QSize(max(wide, least.width()), least.height())

    def minimumSize(self) -> QSize:  # noqa: N802
        size = QSize(0, 0)
        for item in self._items:
            size = size.expandedTo(item.minimumSize().expandedTo(QSize(0, item.sizeHint().height())))
        return size.expandedTo(QSize(0, self.heightForWidth(self._wide))) if self._wide > 0 else size

    def _place(self, rect: QRect, *, move: bool) -> int:
        y = rect.y()
        for line in self._lines(rect.width()):
            tallest = max(item.sizeHint().height() for item in line)
            x = rect.x()
            for item in line:
                wanted = item.sizeHint().boundedTo(QSize(max(rect.width(), item.minimumSize().width()), tallest))
                if move:
                    item.setGeometry(QRect(QPoint(x, y + (tallest - wanted.height()) // 2), wanted))
                x += wanted.width() + self._gap
            y += tallest + self._gap
        return max(0, y - self._gap - rect.y())

    def _lines(self, width: int) -> list[list[QLayoutItem]]:
        lines: list[list[QLayoutItem]] = []
        x = 0
        for item in self._items:
            widget = item.widget()
            if widget is not None and widget.isHidden():
                continue
            wanted = min(item.sizeHint().width(), max(width, item.minimumSize().width()))
            if not lines or x + wanted > width:
                lines.append([])
                x = 0
            lines[-1].append(item)
            x += wanted + self._gap
        return lines
