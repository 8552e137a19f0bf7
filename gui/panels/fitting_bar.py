"""A bar in which the less important gives way where there is no room for all, so that nothing in it is ever cut."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QEvent
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QFrame, QWidget


class FittingBar(QFrame):
    """``give_way`` says what goes first. What is not wanted at all is said by ``want``."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._order: list[QWidget] = []
        self._unwanted: set[QWidget] = set()

    def give_way(self, *widgets: QWidget) -> None:
        """The first of these goes first."""
        self._order = list(widgets)

    def want(self, widget: QWidget, wanted: bool) -> None:
        """Whether there is anything to show in it."""
        if wanted == (widget not in self._unwanted):
            return
        (self._unwanted.discard if wanted else self._unwanted.add)(widget)
        self.fit()

    def fit(self) -> None:
        """Show what is wanted, as far as there is room."""
        layout = self.layout()
        if layout is None:
            return
        things = [item.widget() for at in range(layout.count()) if (item := layout.itemAt(at)) is not None]
        shown: list[QWidget] = [one for one in things if one is not None and one not in self._unwanted]
        for one in self._order:
            if self._needed(shown) <= self.width():
                break
            if one in shown:
                shown.remove(one)
        for thing in things:
            if thing is not None and thing.isHidden() == (thing in shown):
                thing.setVisible(thing in shown)

    def settle(self) -> None:
        """At once, not when Qt comes to it: until then longer words would be cut."""
        self.fit()
        if (layout := self.layout()) is not None:
            layout.activate()

    def _needed(self, shown: Sequence[QWidget]) -> int:
        layout = self.layout()
        assert layout is not None
        margins = layout.contentsMargins()
        gaps = layout.spacing() * max(len(shown), 1)
        return sum(one.sizeHint().width() for one in shown) + gaps + margins.left() + margins.right()

    def event(self, event: QEvent) -> bool:
        """Other words in it take other room."""
        done = super().event(event)
        if event.type() == QEvent.Type.LayoutRequest:
            self.fit()
        return done

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        super().resizeEvent(event)
        self.fit()
