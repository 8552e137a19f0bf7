"""The strip on the left: the places, each with its sign, its name and its key."""

from __future__ import annotations

from PySide6.QtCore import QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFont, QPainter, QPaintEvent, QPen, QResizeEvent
from PySide6.QtWidgets import QAbstractButton, QFrame, QSizePolicy, QVBoxLayout, QWidget

from gui.icons import paint_orchard, paint_sign
from gui.theme import LIGHT, Theme
from gui.words import tr

RAIL_PX, SLIM_PX = 108, 74
KEYED_PX, LOW_PX = 56, 44
"""Lower buttons show no key."""
PICTURE_FROM_PX = 480
"""In lower windows the places need the room of the picture."""


class PlaceButton(QAbstractButton):
    """One place. Checked: it is the one in view."""

    def __init__(self, name: str, text: str, key: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.name = name
        self.key = key
        self.theme = LIGHT
        self.alert = ""
        self.slim = False
        self.keyed = True
        """There is room for the key below the name."""
        self.setText(text)
        self.setCheckable(True)
        self.setAutoExclusive(True)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.setAccessibleName(tr("{place}, key {key}", place=text, key=key))
        self.setToolTip(tr("{place}: {key}", place=text, key=key))
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Preferred)

    def sizeHint(self) -> QSize:  # noqa: N802
        return QSize((SLIM_PX if self.slim else RAIL_PX) - 12, 74)

    def minimumSizeHint(self) -> QSize:  # noqa: N802
        return QSize((SLIM_PX if self.slim else RAIL_PX) - 12, 38)

    def paintEvent(self, _event: QPaintEvent) -> None:  # noqa: N802
        theme = self.theme
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        area = QRectF(self.rect()).adjusted(1, 1, -1, -1)
        if self.isChecked() or self.underMouse():
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(theme.leaf_wash if self.isChecked() else theme.ground))
            painter.drawRoundedRect(area, 10, 10)
        if self.isChecked():
            painter.setBrush(QColor(theme.leaf))
            painter.drawRoundedRect(QRectF(area.left(), area.top() + 12, 4, area.height() - 24), 2, 2)
        if self.hasFocus():
            painter.setPen(QPen(QColor(theme.leaf), 2))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRoundedRect(area, 10, 10)
        keyed = self.keyed
        sign = 24 if self.height() >= LOW_PX else 18
        top = (self.height() - (30 if keyed else 17) - sign) / 2
        ink = theme.leaf if self.isChecked() else theme.ink
        paint_sign(painter, self.name, QRectF(self.width() / 2 - sign / 2, top, sign, sign), ink)
        font = QFont(self.font())
        font.setPixelSize(12 if self.slim else 14)
        font.setBold(self.isChecked())
        painter.setFont(font)
        painter.setPen(QColor(theme.ink))
        painter.drawText(QRectF(0, top + sign + 1, self.width(), 17), Qt.AlignmentFlag.AlignCenter, self.text())
        if not keyed:
            painter.end()
            return
        font.setPixelSize(11)
        font.setBold(False)
        painter.setFont(font)
        painter.setPen(QColor(theme.soft))
        painter.drawText(QRectF(0, top + sign + 17, self.width(), 14), Qt.AlignmentFlag.AlignCenter, self.key)
        painter.end()


class Rail(QFrame):
    """All places; ``chosen`` tells which one was asked for."""

    chosen = Signal(str)

    def __init__(self, places: list[tuple[str, str, str]], theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("kind", "rail")
        self.setFixedWidth(RAIL_PX)
        self.theme = theme
        self.slim = False
        column = QVBoxLayout(self)
        column.setContentsMargins(6, 58, 6, 10)
        column.setSpacing(4)
        self.buttons: dict[str, PlaceButton] = {}
        for name, text, key in places:
            made = PlaceButton(name, text, key)
            made.clicked.connect(lambda _checked=False, name=name: self.chosen.emit(name))
            column.addWidget(made)
            self.buttons[name] = made
        column.addStretch(1)
        self.setAccessibleName(tr("Places"))
        self.set_theme(theme)

    def set_theme(self, theme: Theme) -> None:
        self.theme = theme
        for made in self.buttons.values():
            made.theme = theme
            made.update()
        self.update()

    def set_slim(self, slim: bool) -> None:
        """In a narrow window there are smaller names and more room for the page."""
        if slim == self.slim:
            return
        self.slim = slim
        self.setFixedWidth(SLIM_PX if slim else RAIL_PX)
        for made in self.buttons.values():
            made.slim = slim
            made.updateGeometry()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        """All places show their key, or none does."""
        super().resizeEvent(event)
        layout = self.layout()
        assert layout is not None
        pictured = self.height() >= PICTURE_FROM_PX
        layout.setContentsMargins(6, 58 if pictured else 4, 6, 10 if pictured else 4)
        layout.setSpacing(4 if pictured else 0)
        layout.activate()
        keyed = min(made.height() for made in self.buttons.values()) >= KEYED_PX
        for made in self.buttons.values():
            made.keyed = keyed
            made.update()

    def show_place(self, name: str) -> None:
        self.buttons[name].setChecked(True)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        super().paintEvent(event)
        if self.height() < PICTURE_FROM_PX:
            return
        painter = QPainter(self)
        theme = self.theme
        paint_orchard(
            painter, QRectF(20, 12, self.width() - 40, 38), leaf=theme.leaf, trunk=theme.rust, ground=theme.soft, trees=3
        )
        painter.end()
