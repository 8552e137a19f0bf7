"""The map of a course that is drawn: markers are dragged along their leg, a double click on a leg puts a new one there."""

from __future__ import annotations

import math

from PySide6.QtCore import QEvent, QPointF, Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent

from gui.plots.course_map import CourseMap

NEAR_CM = 12.0
KEY_STEP_CM = 0.5
LEAST_DRAG_PX = 4
"""Less is a click that shook."""


class CourseSketch(CourseMap):
    """``dragged``: (slot, cm) while the pointer moves, ``dropped``: at rest; ``wanted``: (leg, cm) of a new marker."""

    dragged = Signal(int, float)
    dropped = Signal(int, float)
    wanted = Signal(int, float)
    _held = -1
    _grip_cm = 0.0
    """How far beside the marker's own place it was taken hold of."""
    _pressed: QPointF | None = None
    """Where the button went down; None once the pointer has gone far enough to mean a move."""

    def _along(self, leg: int, point: QPointF) -> tuple[float, float]:
        """(cm along the leg, cm beside it) of a point of the widget."""
        x, y = self.point_cm(point)
        line = self.layout_cm.legs[leg]
        angle = math.radians(line.angle_deg)
        dx, dy = x - line.start[0], y - line.start[1]
        return dx * math.cos(angle) + dy * math.sin(angle), abs(-dx * math.sin(angle) + dy * math.cos(angle))

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: N802
        self.setFocus()
        super().mousePressEvent(event)
        self._held = next(
            (n for n, area in enumerate(self._areas) if area.adjusted(-6, -6, 6, 6).contains(event.position())), -1
        )
        if self._held >= 0:
            leg, at = self.layout_cm.slots[self._held]
            self._grip_cm, self._pressed = self._along(leg, event.position())[0] - at, event.position()
            self.hold_scale(True)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:  # noqa: N802
        if self._held < 0 or not event.buttons() & Qt.MouseButton.LeftButton:
            return
        if self._pressed is not None and (event.position() - self._pressed).manhattanLength() < LEAST_DRAG_PX:
            return
        self._pressed = None
        at_cm = self._place_for(self._held, event.position())
        self.lift(self._held, at_cm)
        self.dragged.emit(self._held, at_cm)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:  # noqa: N802
        held, self._held = self._held, -1
        self.lift(-1, 0.0)
        if held >= 0 and self._pressed is None:
            self.dropped.emit(held, self._place_for(held, event.position()))

    def leaveEvent(self, event: QEvent) -> None:  # noqa: N802
        """What was moved stays under the pointer; once that is elsewhere, the course fills its room again."""
        super().leaveEvent(event)
        if self._held < 0:
            self.hold_scale(False)

    def _place_for(self, slot: int, point: QPointF) -> float:
        return max(round(self._along(self.layout_cm.slots[slot][0], point)[0] - self._grip_cm, 1), 0.0)

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:  # noqa: N802
        if self._held >= 0:
            return
        places = [(beside, leg, along) for leg in range(len(self.layout_cm.legs))
                  for along, beside in [self._along(leg, event.position())] if along >= 0]  # fmt: skip
        if places and min(places)[0] < NEAR_CM:
            _beside, leg, along = min(places)
            self.wanted.emit(leg, round(along, 1))

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802
        """With Shift the arrow keys move the chosen marker half a centimetre."""
        step = {Qt.Key.Key_Right: 1, Qt.Key.Key_Up: 1, Qt.Key.Key_Left: -1, Qt.Key.Key_Down: -1}.get(Qt.Key(event.key()))
        shift = event.modifiers() & Qt.KeyboardModifier.ShiftModifier
        if step is not None and shift and 0 <= self.chosen < len(self.layout_cm.slots):
            self.dropped.emit(self.chosen, max(self.layout_cm.slots[self.chosen][1] + step * KEY_STEP_CM, 0.0))
        else:
            super().keyPressEvent(event)
