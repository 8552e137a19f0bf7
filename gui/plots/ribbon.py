"""The ribbon: what colour was seen, as a band along the axis; patterns and letters say it without colour too."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from PySide6.QtGui import QColor, QImage

from gui.model.series import TIME, Series
from gui.plots.columns import last_colour
from gui.plots.raster import Pixels, image_of, rgb32
from gui.swatches import PATTERNS, Swatch, SwatchBook

_Grid = NDArray[np.int64]
Mask = Callable[[_Grid, _Grid, int], NDArray[np.bool_]]
# one mask for each of PATTERNS, over rows r and columns k with a spacing of s pixels
_MASKS: tuple[Mask, ...] = (
    lambda r, k, s: (k + r) % s == 0,
    lambda r, k, s: (k % s == 0) & (r % s == 0),
    lambda r, k, s: r % s + 0 * k == s // 2,
    lambda r, k, s: (k - r) % s == 0,
    lambda r, k, s: r + k + s < 0,
    lambda r, k, s: k % s + 0 * r == 0,
    lambda r, k, s: (k % s == 0) | (r % s == 0),
    lambda r, k, s: ((k + r) % s == 0) | ((k - r) % s == 0),
    lambda r, k, s: (k % (s // 2 + 1) == 0) & (r % (s // 2 + 1) == 0),
    lambda r, k, s: (k % (2 * s) == 0) & (r % (2 * s) == 0),
)


@dataclass(frozen=True, slots=True)
class ColourStretch:
    """A stretch of one colour in view: columns ``begin`` to ``end`` of the picture, and its swatch."""

    begin: int
    end: int
    swatch: Swatch


@dataclass
class Lane:
    """One band of the ribbon. ``channel`` holds colour indices into ``names``."""

    title: str
    channel: str
    book: SwatchBook
    names: tuple[str, ...] = ("none",)
    width: int = 1
    height: int = 1
    spacing_px: int = 6
    empty: int = 0xFF000000
    codes: NDArray[np.int64] = field(default_factory=lambda: np.full(1, -1, dtype=np.int64))
    pixels: Pixels = field(default_factory=lambda: np.zeros((1, 1), dtype=np.uint32))
    image: QImage = field(default_factory=QImage)
    _first: int = 0
    _step: float = 0.0
    _axis: str = ""
    _valid: bool = False

    def resize(self, width: int, height: int, ratio: float, empty: str) -> None:
        """Start an empty band of this many pixels."""
        self.width, self.height = max(1, width), max(1, height)
        self.spacing_px = max(4, round(6 * ratio))
        self.empty = rgb32(empty)
        self.codes = np.full(self.width, -1, dtype=np.int64)
        self.pixels = np.full((self.height, self.width), self.empty, dtype=np.uint32)
        self.image = image_of(self.pixels)
        self._valid = False

    def forget(self) -> None:
        """The next ``show`` paints everything anew."""
        self._valid = False

    def show(self, series: Series, axis: str, first: int, step: float, dirty_from: int) -> None:
        """As Strip.show."""
        end = first + self.width
        kept = self._valid and step == self._step and axis == self._axis and abs(first - self._first) < self.width
        spans = [(first, end)]
        if kept:
            old_end = min(self._first + self.width, end)
            spans = [(first, self._first)] if first < self._first else []
            spans.append((max(first, min(dirty_from, old_end)), end))
        self._first, self._step, self._axis, self._valid = first, step, axis, True
        for begin, stop in spans:
            if begin < stop:
                self._fill(series, axis, begin, stop, step)

    def _fill(self, series: Series, axis: str, begin: int, stop: int, step: float) -> None:
        columns = np.arange(begin, stop)
        slots = columns % self.width
        values = series.channel(self.channel)
        if values is None:
            codes = np.full(len(columns), -1, dtype=np.int64)
        else:
            codes = last_colour(
                series.axis(axis), values, first=begin, count=len(columns), step=step,  # type: ignore[arg-type]
                broken=lambda rows: series.broken(rows, axis), hold=series.usual_s if axis == TIME else 0.0,
            )  # fmt: skip
        self.codes[slots] = codes
        block = np.full((self.height, len(columns)), self.empty, dtype=np.uint32)
        rows = np.arange(self.height)[:, None]
        for code in np.flatnonzero(np.bincount(codes[(codes > 0) & (codes < len(self.names))])).tolist():
            swatch = self.book.of(self.names[code])
            here = np.flatnonzero(codes == code)
            part = np.full((self.height, len(here)), rgb32(swatch.fill), dtype=np.uint32)
            mask = _MASKS[PATTERNS.index(swatch.pattern)](rows, columns[here][None, :], self.spacing_px)
            part[mask] = _mixed(swatch)
            # An edge above and below: a white marker stands on a ground that is nearly white.
            part[0] = part[-1] = _mixed(swatch)
            block[:, here] = part
        self.pixels[:, slots] = block

    def runs(self, at_least: int) -> Iterator[ColourStretch]:
        """The stretches of one colour in view that are at least that many columns wide."""
        order = (np.arange(self.width) + self._first) % self.width
        codes = self.codes[order]
        cuts = np.flatnonzero(np.diff(codes)) + 1
        begins = np.concatenate(([0], cuts))
        ends = np.concatenate((cuts, [len(codes)]))
        for number in np.flatnonzero(ends - begins >= at_least):
            code = int(codes[begins[number]])
            if 0 < code < len(self.names):
                yield ColourStretch(int(begins[number]), int(ends[number]), self.book.of(self.names[code]))


def _mixed(swatch: Swatch) -> int:
    """The colour of the pattern: the ink at 45 % over the fill."""
    fill, ink = QColor(swatch.fill), QColor(swatch.ink)
    part = 0.45
    mix = [round(a + (b - a) * part) for a, b in zip(fill.getRgb()[:3], ink.getRgb()[:3], strict=True)]  # type: ignore[index]
    return int(0xFF000000 | mix[0] << 16 | mix[1] << 8 | mix[2])
