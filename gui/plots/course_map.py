"""The course drawn as it lies on the field, with what is known of each slot and the robot on its way."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QColor, QFont, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from gui.plots.course_layout import CourseLayout, lay_out
from gui.swatches import SwatchBook, paint_swatch
from gui.theme import Theme
from gui.words import tr
from telemetry.course import Course

MARKER_PX = 44
SMALLEST_NAMED_PX = 9
"""Closer markers have no room for names beside them."""
SMALLEST_MARKED_PX = 22
"""On smaller markers a badge would hide the letter; the list of readings says it too."""
TRAIL_POINTS = 400


@dataclass(frozen=True, slots=True)
class SlotState:
    """What is shown in a slot: a colour or None (open), and a mark: '', inferred, assumed, missing, wrong, right."""

    colour: str | None = None
    mark: str = ""


class CourseMap(QWidget):
    """Draws the legs, slots, decoys and the robot. Slots can be tapped, or chosen with the arrow keys where ``choosing``."""

    slot_tapped = Signal(int)
    colour_typed = Signal(int, str)
    stepped = Signal()
    """Another slot was chosen with the arrow keys."""

    def __init__(
        self, course: Course, book: SwatchBook, theme: Theme, choosing: bool = False, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.book = book
        self.theme = theme
        self.choosing = choosing
        self.chosen = 0 if choosing else -1
        self.robot: tuple[float, float, float] | None = None
        self._trail: tuple[NDArray[np.float64], NDArray[np.float64]] | None = None
        self._areas: list[QRectF] = []
        self._marker = float(MARKER_PX)
        self._shown_at = (0.0, 0.0, 1.0, 0.0, 0.0)
        self._scale_held = False
        self._lifted: tuple[int, float] = (-1, 0.0)
        self.set_course(course)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(240, 150)
        if choosing:
            self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)

    def set_course(self, course: Course) -> None:
        self.course = course
        self.layout_cm: CourseLayout = lay_out(course)
        self.states: list[SlotState] = [SlotState() for _ in course.slots]
        self._describe()
        self.update()

    def set_theme(self, theme: Theme) -> None:
        self.theme = theme
        self.update()

    def set_states(self, states: Sequence[SlotState]) -> None:
        """What is known of each slot, in slot order."""
        if list(states) != self.states:
            self.states = list(states)
            self._describe()
            self.update()

    def set_trail(self, x_cm: NDArray[np.float64], y_cm: NDArray[np.float64], heading_deg: float) -> None:
        """Where the robot has been, and where it looks; in the plane of the course, from its start."""
        if not len(x_cm):
            self._trail, self.robot = None, None
        else:
            every = max(1, len(x_cm) // TRAIL_POINTS)
            self._trail = (x_cm[::every], y_cm[::every])
            self.robot = (float(x_cm[-1]), float(y_cm[-1]), heading_deg)
        self.update()

    def choose(self, slot: int) -> None:
        self.chosen = slot
        self._describe()
        self.update()

    def hold_scale(self, held: bool) -> None:
        """While held, the course is not fitted to its room anew, so that nothing moves under a pointer."""
        if held != self._scale_held:
            self._scale_held = held
            self.update()

    def lift(self, slot: int, at_cm: float) -> None:
        """Show a slot at another place along its leg while it is dragged; -1: none is."""
        if (slot, at_cm) != self._lifted:
            self._lifted = (slot, at_cm)
            self.update()

    def _describe(self) -> None:
        both = zip(self.course.slots, self.states, strict=True)
        words = [f"{slot.name}: {state.colour or tr('not read')}" for slot, state in both]
        self.setAccessibleName(tr("Course {name}", name=self.course.name))
        self.setAccessibleDescription("; ".join(words))

    # -- painting -----------------------------------------------------------------------------------------------------

    def _bounds(self) -> QRectF:
        points = [line.at(along) for line in self.layout_cm.legs for along in (0.0, line.length_cm)]
        xs, ys = [x for x, _ in points], [y for _, y in points]
        return QRectF(min(xs), min(ys), max(xs) - min(xs), max(ys) - min(ys))

    def paintEvent(self, _event: QPaintEvent) -> None:  # noqa: N802
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        left, top, scale, x0, y0 = self._shown_at if self._scale_held else self._fit()
        self._shown_at = (left, top, scale, x0, y0)

        def place(point: tuple[float, float]) -> QPointF:
            return QPointF(left + (point[0] - x0) * scale, top - (point[1] - y0) * scale)

        self._paint_legs(painter, place, scale)
        self._paint_trail(painter, place)
        self._paint_slots(painter, place, scale)
        if self.hasFocus():
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(QColor(self.theme.leaf), 2))
            painter.drawRoundedRect(QRectF(self.rect()).adjusted(1, 1, -1, -1), 8, 8)
        painter.end()

    def _fit(self) -> tuple[float, float, float, float, float]:
        """(left, top) in pixels, pixels a centimetre, and the course's own corner: so that it fills its room."""
        bounds = self._bounds()
        # The margins hold the markers, whose size follows from the scale: the second round knows it.
        self._marker = float(MARKER_PX)
        for _round in range(2):
            wide, tall = self._margins()
            room_x, room_y = self.width() - sum(wide), self.height() - sum(tall)
            fits_y = room_y / bounds.height() if bounds.height() > 1 else math.inf
            scale = max(min(room_x / max(bounds.width(), 1.0), fits_y), 0.5)
            self._marker = self._marker_px(scale)
        left = wide[0] + (room_x - bounds.width() * scale) / 2
        top = self.height() - tall[1] - (room_y - bounds.height() * scale) / 2
        return left, top, scale, bounds.left(), bounds.top()

    def _margins(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """(left, right), (top, bottom): room for markers and names on the side where they stand."""
        upright = any(line.upright for line in self.layout_cm.legs)
        flat = any(not line.upright for line in self.layout_cm.legs)
        names_px = 126.0 if upright else 40.0
        under_px = self._aside + self._marker / 2 + 22.0 if flat else 24.0
        if self._side() < 0:
            return (56.0 if upright else 30.0, names_px), (30.0, under_px)
        return (names_px, 56.0 if upright else 30.0), (under_px, 30.0)

    @property
    def _aside(self) -> float:
        """How far beside the way the markers stand."""
        return 16.0 + self._marker / 2

    def _paint_legs(self, painter: QPainter, place, scale: float) -> None:  # type: ignore[no-untyped-def]
        theme = self.theme
        for line in self.layout_cm.legs:
            begin, end = place(line.at(0.0)), place(line.at(line.length_cm))
            painter.setPen(QPen(QColor(theme.leaf_wash), 20, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
            painter.drawLine(begin, end)
        font = QFont(self.font())
        font.setPixelSize(13)
        painter.setFont(font)
        for line in self.layout_cm.legs:
            begin, end = place(line.at(0.0)), place(line.at(line.length_cm))
            painter.setPen(QPen(QColor(theme.soft), 1.5, Qt.PenStyle.DashLine))
            painter.drawLine(begin, end)
            painter.setPen(QColor(theme.soft))
            if line.upright:
                point = place(line.at(line.length_cm))
                area = QRectF(point.x() - 60, point.y() - 30, 120, 16)
            else:
                point = place(line.at(line.length_cm * 0.4, -self._side() * 22.0 / scale))
                area = QRectF(point.x() - 60, point.y() - 8, 120, 16)
            painter.drawText(area, Qt.AlignmentFlag.AlignCenter, line.name)
        for decoy, (leg, at) in zip(self.course.decoys, self.layout_cm.decoys, strict=True):
            if decoy.at_cm is None:
                continue
            point = place(self.layout_cm.legs[leg].at(at))
            painter.setPen(QPen(QColor(theme.rust), 2))
            painter.drawLine(point + QPointF(-6, -6), point + QPointF(6, 6))
            painter.drawLine(point + QPointF(-6, 6), point + QPointF(6, -6))
            painter.setPen(QColor(theme.soft))
            spot = QRectF(point.x() - 112, point.y() - 9, 96, 18)
            if self._side() > 0:
                spot.moveLeft(point.x() + 16)
            painter.drawText(
                spot, Qt.AlignmentFlag.AlignRight if self._side() < 0 else Qt.AlignmentFlag.AlignLeft, decoy.name
            )

    def _paint_trail(self, painter: QPainter, place) -> None:  # type: ignore[no-untyped-def]
        if self._trail is None or self.robot is None:
            return
        line = QPolygonF([place((x, y)) for x, y in zip(self._trail[0].tolist(), self._trail[1].tolist(), strict=True)])
        robot = place((self.robot[0], self.robot[1]))
        line.append(robot)
        painter.setPen(QPen(QColor(self.theme.leaf), 2.5))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawPolyline(line)
        painter.save()
        painter.translate(robot)
        painter.rotate(-self.robot[2])
        painter.setPen(QPen(QColor(self.theme.card), 2))
        painter.setBrush(QColor(self.theme.ink))
        painter.drawPolygon(QPolygonF([QPointF(14, 0), QPointF(-9, 9), QPointF(-5, 0), QPointF(-9, -9)]))
        painter.restore()

    def _paint_slots(self, painter: QPainter, place, scale: float) -> None:  # type: ignore[no-untyped-def]
        theme = self.theme
        self._areas = []
        font = QFont(self.font())
        font.setPixelSize(12)
        side = self._marker
        for number, (slot, state) in enumerate(zip(self.course.slots, self.states, strict=True)):
            leg, at = self.layout_cm.slots[number]
            at = self._lifted[1] if number == self._lifted[0] else at
            line = self.layout_cm.legs[leg]
            middle = place(line.at(at, self._side() * self._aside / scale))
            area = QRectF(middle.x() - side / 2, middle.y() - side / 2, side, side)
            self._areas.append(area)
            if number == self.chosen:
                painter.setPen(QPen(QColor(theme.leaf), 3))
                painter.setBrush(Qt.BrushStyle.NoBrush)
                painter.drawRoundedRect(area.adjusted(-4, -4, 4, 4), 9, 9)
            if state.colour is None:
                painter.setPen(QPen(QColor(theme.soft), 1.5, Qt.PenStyle.DashLine))
                painter.setBrush(QColor(theme.card))
                painter.drawRoundedRect(area, 6, 6)
                painter.setPen(QColor(theme.soft))
                painter.setFont(font)
                painter.drawText(area, Qt.AlignmentFlag.AlignCenter, "?")
            else:
                paint_swatch(painter, area, self.book.of(state.colour))
            self._paint_mark(painter, area, state.mark)
            painter.setFont(font)
            painter.setPen(QColor(theme.soft))
            flag = Qt.AlignmentFlag
            if line.upright:
                text = QRectF(area.right() + 8, area.top(), 90, side)
                edge = flag.AlignLeft
                if self._side() > 0:
                    text.moveRight(area.left() - 8)
                    edge = flag.AlignRight
                if self._spacing_px(number, scale) > SMALLEST_NAMED_PX:
                    painter.drawText(text, int(edge | flag.AlignVCenter), slot.name)
            else:
                name = slot.name
                if not self._names_fit(painter, leg, scale):
                    name = name.split()[-1]
                text = QRectF(area.center().x() - 45, area.bottom() + 3, 90, 15)
                if self._side() > 0:
                    text.moveBottom(area.top() - 3)
                painter.drawText(text, flag.AlignCenter, name)

    def _side(self) -> int:
        """Markers are drawn on the outside of the first turn: +1 left of the way, -1 right of it."""
        legs = self.layout_cm.legs
        turn = math.sin(math.radians(legs[1].angle_deg - legs[0].angle_deg)) if len(legs) > 1 else -1.0
        return -1 if turn > 0 else 1

    def _names_fit(self, painter: QPainter, leg: int, scale: float) -> bool:
        """Whether the names of all slots of a leg fit side by side; else all of them are shortened."""
        advance = painter.fontMetrics().horizontalAdvance
        mine = [number for number, (there, _at) in enumerate(self.layout_cm.slots) if there == leg]
        return all(advance(self.course.slots[number].name) <= self._spacing_px(number, scale) for number in mine)

    def _spacing_px(self, number: int, scale: float) -> float:
        leg, at = self.layout_cm.slots[number]
        others = [
            abs(place - at) for other, (there, place) in enumerate(self.layout_cm.slots) if there == leg and other != number
        ]
        return min(others, default=100.0) * scale - 4.0

    def _marker_px(self, scale: float) -> float:
        """As large as the closest two slots of a leg allow."""
        side = float(MARKER_PX)
        for first, second in zip(self.layout_cm.slots, self.layout_cm.slots[1:], strict=False):
            if first[0] == second[0]:
                side = min(side, abs(second[1] - first[1]) * scale * 0.82)
        return max(side, 14.0)

    def _paint_mark(self, painter: QPainter, area: QRectF, mark: str) -> None:
        sign = {"inferred": "→", "assumed": "~", "wrong": "✗", "right": "✓", "missing": "–"}.get(mark)
        if sign is None or area.width() < SMALLEST_MARKED_PX:
            return
        good = mark == "right"
        ground, ink = (
            (self.theme.good_ground, self.theme.good_ink) if good else (self.theme.warn_ground, self.theme.warn_ink)
        )
        if mark == "wrong":
            ground, ink = self.theme.bad_ground, self.theme.bad_ink
        badge = QRectF(area.right() - 8, area.bottom() - 8, 17, 17)
        painter.setPen(QPen(QColor(ink), 1))
        painter.setBrush(QColor(ground))
        painter.drawEllipse(badge)
        font = QFont(self.font())
        font.setPixelSize(12)
        font.setBold(True)
        painter.setFont(font)
        painter.drawText(badge, Qt.AlignmentFlag.AlignCenter, sign)

    def point_cm(self, point: QPointF) -> tuple[float, float]:
        """A point of the widget in the plane of the course, as it was last painted."""
        left, top, scale, x0, y0 = self._shown_at
        return (point.x() - left) / scale + x0, (top - point.y()) / scale + y0

    # -- choosing -----------------------------------------------------------------------------------------------------

    def area_of(self, slot: int) -> QRectF:
        """Where a slot was last painted, in the widget's coordinates."""
        return self._areas[slot]

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: N802
        for number, area in enumerate(self._areas):
            if area.adjusted(-6, -6, 6, 6).contains(event.position()):
                if self.choosing:
                    self.choose(number)
                self.slot_tapped.emit(number)
                return

    def means_a_colour(self, event: QKeyEvent) -> bool:
        """Whether the key is the letter of one."""
        typed = event.text().upper()
        return bool(typed) and any(typed == swatch.letter for swatch in self.book.swatches)

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802
        if not self.choosing:
            super().keyPressEvent(event)
            return
        step = {Qt.Key.Key_Right: 1, Qt.Key.Key_Down: 1, Qt.Key.Key_Left: -1, Qt.Key.Key_Up: -1}.get(Qt.Key(event.key()))
        letter = event.text().upper()
        if step is not None:
            self.choose((self.chosen + step) % len(self.states))
            self.stepped.emit()
            return
        for swatch in self.book.swatches:
            if letter and swatch.letter == letter:
                self.colour_typed.emit(self.chosen, swatch.name)
                return
        super().keyPressEvent(event)
