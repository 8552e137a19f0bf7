"""How a marker's colour is shown: its fill, one letter and one pattern, so that no meaning hangs on colour alone."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from zlib import crc32

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QFont, QPainter, QPen, QPixmap

from gui.theme import ink_on
from telemetry.report.fills import FILLS, NONE_FILL

PATTERNS: tuple[Qt.BrushStyle, ...] = (
    Qt.BrushStyle.BDiagPattern,
    Qt.BrushStyle.Dense6Pattern,
    Qt.BrushStyle.HorPattern,
    Qt.BrushStyle.FDiagPattern,
    Qt.BrushStyle.NoBrush,
    Qt.BrushStyle.VerPattern,
    Qt.BrushStyle.CrossPattern,
    Qt.BrushStyle.DiagCrossPattern,
    Qt.BrushStyle.Dense5Pattern,
    Qt.BrushStyle.Dense7Pattern,
)
LETTER_PATCH = 0.62
"""Side of the plain patch behind the letter, as a part of the swatch's shorter side: the pattern never runs under text."""


@dataclass(frozen=True, slots=True)
class Swatch:
    """One colour as it is shown. ``ink`` is the colour of the letter and of the pattern."""

    name: str
    fill: str
    ink: str
    letter: str
    pattern: Qt.BrushStyle


def fill_of(name: str) -> str:
    """A colour to paint for a colour's name; an unknown name always gets the same one, made from its letters."""
    if name in FILLS:
        return FILLS[name]
    known = QColor(name)
    if known.isValid():
        return known.name()
    return QColor.fromHsl(crc32(name.encode("utf-8", "replace")) % 360, 120, 140).name()


class SwatchBook:
    """The swatches of one set of colour names: letters are unique within it, patterns for its first ten."""

    def __init__(self, names: Iterable[str]) -> None:
        self.begin_anew(names)

    def begin_anew(self, names: Iterable[str]) -> None:
        """Another set of names: whoever holds this book shows the new letters from now on."""
        self._by_name: dict[str, Swatch] = {}
        self._letters = {"–"}
        for name in names:
            self.of(name)

    @property
    def swatches(self) -> tuple[Swatch, ...]:
        """All of them, in the order of the names; without ``none``."""
        return tuple(self._by_name.values())

    def of(self, name: str) -> Swatch:
        """The swatch of ``name``: grey with a dash for none; a new name is added, the others keep what they have."""
        if name in ("none", "empty", ""):
            return Swatch(name or "none", NONE_FILL, ink_on(NONE_FILL), "–", Qt.BrushStyle.NoBrush)
        if name not in self._by_name:
            wanted = [letter.upper() for letter in name if letter.isalnum()] + list("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789")
            letter = next((letter for letter in wanted if letter not in self._letters), "?")
            self._letters.add(letter)
            fill = fill_of(name)
            pattern = PATTERNS[len(self._by_name) % len(PATTERNS)]
            self._by_name[name] = Swatch(name, fill, ink_on(fill), letter, pattern)
        return self._by_name[name]


def paint_swatch(painter: QPainter, area: QRectF, swatch: Swatch, radius: float = 6.0, label: str | None = None) -> None:
    """Paint ``swatch`` into ``area`` with its letter (or ``label``) in the middle."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    outline = QColor(swatch.ink)
    outline.setAlphaF(0.45)
    painter.setPen(QPen(outline, 1.0))
    painter.setBrush(QColor(swatch.fill))
    painter.drawRoundedRect(area, radius, radius)
    side = min(area.width(), area.height())
    if swatch.pattern != Qt.BrushStyle.NoBrush and side >= 16:
        shade = QColor(swatch.ink)
        shade.setAlphaF(0.38)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QBrush(shade, swatch.pattern))
        painter.drawRoundedRect(area, radius, radius)
    text = swatch.letter if label is None else label
    if text:
        patch_side = side * LETTER_PATCH
        patch = QRectF(0, 0, patch_side, patch_side)
        patch.moveCenter(area.center())
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(swatch.fill))
        painter.drawRoundedRect(patch, patch_side / 4, patch_side / 4)
        font = QFont(painter.font())
        font.setPixelSize(max(8, round(side * 0.5)))
        font.setBold(True)
        painter.setFont(font)
        painter.setPen(QColor(swatch.ink))
        painter.drawText(area, Qt.AlignmentFlag.AlignCenter, text)
    painter.restore()


@lru_cache(maxsize=512)
def swatch_pixmap(swatch: Swatch, width_px: int, height_px: int, ratio: float) -> QPixmap:
    """``swatch`` as a picture of ``width_px`` by ``height_px`` logical pixels on a screen with ``ratio`` pixels to each."""
    picture = QPixmap(round(width_px * ratio), round(height_px * ratio))
    picture.setDevicePixelRatio(ratio)
    picture.fill(Qt.GlobalColor.transparent)
    painter = QPainter(picture)
    paint_swatch(
        painter, QRectF(QPointF(1, 1), QPointF(width_px - 1, height_px - 1)), swatch, radius=min(6.0, height_px / 5)
    )
    painter.end()
    return picture
