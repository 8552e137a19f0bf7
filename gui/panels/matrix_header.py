"""The names of the strategies above the matrix: level where there is room for all of them, else upright; none is cut."""

from __future__ import annotations

from PySide6.QtCore import QRect, QSize, Qt
from PySide6.QtGui import QFont, QFontMetrics, QPainter, QPalette
from PySide6.QtWidgets import QHeaderView, QStyle, QStyleOptionHeader, QWidget

MARGIN_PX = 6
FONT_PX = 12
LEAST_COLUMN_PX = 36
"""A sign and a number of two digits."""
LEVEL_LINES = 3


class StrategyHeader(QHeaderView):
    """A heading is text of several lines, the last of them how many runs were read right."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(Qt.Orientation.Horizontal, parent)
        self.upright = False
        self.setMinimumSectionSize(LEAST_COLUMN_PX)
        self.setSectionResizeMode(QHeaderView.ResizeMode.Stretch)
        self.setHighlightSections(True)
        self.setSectionsClickable(True)

    def fit(self, width_px: int) -> None:
        """The columns share ``width_px``: level headings where each fits into its share."""
        share = width_px // max(self.count(), 1)
        upright = self.level_width() > share
        if upright != self.upright:
            self.upright = upright
            self.geometriesChanged.emit()
            self.updateGeometry()
            self.viewport().update()

    def level_width(self) -> int:
        """What the widest heading needs when it lies level."""
        metrics = self._metrics()
        lines = [line for section in range(self.count()) for line in self._lines(section)]
        return max((metrics.horizontalAdvance(line) for line in lines), default=0) + 2 * MARGIN_PX

    def sizeHint(self) -> QSize:  # noqa: N802
        return QSize(super().sizeHint().width(), self._tall())

    def _tall(self) -> int:
        metrics = self._metrics()
        if not self.upright:
            return LEVEL_LINES * metrics.height() + 2 * MARGIN_PX
        names = [self._name(section) for section in range(self.count())]
        return max((metrics.horizontalAdvance(name) for name in names), default=0) + metrics.height() + 4 * MARGIN_PX

    def _metrics(self) -> QFontMetrics:
        return QFontMetrics(self._face())

    def _face(self) -> QFont:
        """As the style sheet has it."""
        font = QFont(self.font())
        font.setPixelSize(FONT_PX)
        font.setBold(True)
        return font

    def _lines(self, section: int) -> list[str]:
        return str(self.model().headerData(section, Qt.Orientation.Horizontal) or "").split("\n")

    def _name(self, section: int) -> str:
        lines = self._lines(section)
        joined = "".join(line if line.endswith("-") else f"{line} " for line in lines[:-1]).strip()
        return f"★ {joined}" if lines[-1].startswith("★") else joined

    def paintSection(self, painter: QPainter, rect: QRect, logical: int) -> None:  # noqa: N802
        if not self.upright:
            super().paintSection(painter, rect, logical)
            return
        option = QStyleOptionHeader()
        self.initStyleOption(option)
        option.rect = rect
        option.section = logical
        painter.save()
        self.style().drawControl(QStyle.ControlElement.CE_HeaderSection, option, painter, self)
        font = self._face()
        painter.setFont(font)
        painter.setPen(self.palette().color(QPalette.ColorRole.ButtonText))
        line = QFontMetrics(font).height()
        count = self._lines(logical)[-1].removeprefix("★ ")
        below = QRect(rect.left(), rect.bottom() - line - MARGIN_PX, rect.width(), line)
        if QFontMetrics(font).horizontalAdvance(count) > rect.width() - 2:
            count = count.split("/")[0]
        painter.drawText(below, Qt.AlignmentFlag.AlignCenter, count)
        long = below.top() - rect.top() - 2 * MARGIN_PX
        painter.translate(rect.center().x(), below.top() - MARGIN_PX)
        painter.rotate(-90)
        across = QRect(0, -line // 2, long, line)
        painter.drawText(across, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, self._name(logical))
        painter.restore()
