"""A frame that is as high as its words need at its width, also in a page that scrolls, which asks no layout for that."""

from __future__ import annotations

from PySide6.QtCore import QSize
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QFrame, QSizePolicy


class Tall(QFrame):
    """Call ``fit`` when the words have changed."""

    _tall = 0

    def fit(self) -> None:
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        layout = self.layout()
        tall = layout.heightForWidth(self.width()) if layout is not None and self.width() > 0 else 0
        if tall > 0 and tall != self._tall:
            self._tall = tall
            self.updateGeometry()

    def hasHeightForWidth(self) -> bool:  # noqa: N802
        """Not asked of what lies around: the height follows the width here."""
        return False

    def sizeHint(self) -> QSize:  # noqa: N802
        hint = super().sizeHint()
        return QSize(hint.width(), self._tall or hint.height())

    def minimumSizeHint(self) -> QSize:  # noqa: N802
        hint = super().minimumSizeHint()
        return QSize(hint.width(), self._tall or hint.height())

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        super().resizeEvent(event)
        self.fit()
