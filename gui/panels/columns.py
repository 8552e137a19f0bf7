"""A column of cards beside the main thing; where the window is too narrow for both, the main thing comes first, cards below.

It scrolls nothing by itself: put it into a frame that does (``parts.scrolled``).
"""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, QSize
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QBoxLayout, QScrollArea, QWidget

from gui.theme import GAP_PX

NARROW_PX = 860
BAR_PX = 14
ANY_PX = 16_777_215  # Qt's own largest size of a widget


class Columns(QWidget):
    """``side``: as ``parts.side_column`` makes it. ``least_main_px``: the height that ``main`` keeps in a narrow window.

    ``side_first``: there the cards come above the main thing.
    """

    def __init__(
        self, side: QScrollArea, main: QWidget, least_main_px: int, *, side_first: bool = False,
        parent: QWidget | None = None,
    ) -> None:  # fmt: skip
        super().__init__(parent)
        self.side, self.main, self._least_main_px = side, main, least_main_px
        self.below = False
        self._narrow_direction = QBoxLayout.Direction.TopToBottom if side_first else QBoxLayout.Direction.BottomToTop
        self._side_px, self._main_px = side.maximumWidth(), main.minimumHeight()
        self._line = QBoxLayout(QBoxLayout.Direction.LeftToRight, self)
        self._line.setContentsMargins(0, 0, 0, 0)
        self._line.setSpacing(GAP_PX)
        self._line.addWidget(side)
        self._line.addWidget(main, 1)
        cards = side.widget()
        assert cards is not None
        self._cards = cards
        cards.installEventFilter(self)

    def minimumSizeHint(self) -> QSize:  # noqa: N802
        """Of no width: where there is too little of it, the cards go below."""
        return QSize(0, super().minimumSizeHint().height())

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        super().resizeEvent(event)
        self._lay_out(self.width() < NARROW_PX)

    def eventFilter(self, what: QObject, event: QEvent) -> bool:  # noqa: N802
        """The cards have become higher or lower, or need more width: nothing beside them is cut."""
        if event.type() == QEvent.Type.LayoutRequest:
            if self.below:
                self._fit()
            elif (wide := self._cards.minimumSizeHint().width() + BAR_PX) > self._side_px:
                self._side_px = wide
                self.side.setFixedWidth(wide)
        return super().eventFilter(what, event)

    def _fit(self) -> None:
        self.side.setMinimumHeight(self._cards.minimumSizeHint().height() + 2)

    def _lay_out(self, below: bool) -> None:
        if below == self.below:
            return
        self.below = below
        self._line.setDirection(self._narrow_direction if below else QBoxLayout.Direction.LeftToRight)
        self.main.setMinimumHeight(max(self._least_main_px, self._main_px) if below else self._main_px)
        if below:
            self.side.setMinimumWidth(0)
            self.side.setMaximumWidth(ANY_PX)
            self._fit()
        else:
            self.side.setFixedWidth(self._side_px)
            self.side.setMinimumHeight(0)
