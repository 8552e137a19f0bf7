"""A label for words of others, a name or a remark: where they have no room they end in …, and are whole in the tip."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QWidget

from gui.panels.parts import Label
from gui.plain_text import tip

LEAST_PX = 90
SPARE_PX = 4
"""So much what is measured of a part and of the whole may differ."""


class Elided(Label):
    """``whole``: the words as they are; ``text`` what is shown of them."""

    def __init__(self, text: str = "", kind: str = "", parent: QWidget | None = None) -> None:
        super().__init__(text, kind, parent=parent)
        self.whole = text
        self.setAccessibleName(text)

    def _wide(self, text: str) -> int:
        return self.fontMetrics().horizontalAdvance(text)

    def sizeHint(self) -> QSize:  # noqa: N802
        shown = super().sizeHint()
        return QSize(shown.width() + self._wide(self.whole) - self._wide(self.text()) + SPARE_PX, shown.height())

    def minimumSizeHint(self) -> QSize:  # noqa: N802
        wanted = self.sizeHint()
        return QSize(min(LEAST_PX, wanted.width()), wanted.height())

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        super().resizeEvent(event)
        around = self.sizeHint().width() - self._wide(self.whole) - SPARE_PX
        self.say(self.fontMetrics().elidedText(self.whole, Qt.TextElideMode.ElideRight, max(self.width() - around, 0)))
        self.setToolTip("" if self.text() == self.whole else tip(self.whole))
