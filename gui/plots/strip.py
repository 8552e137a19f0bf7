"""One strip: the pixels of one or a few traces over a common axis, kept as a ring of columns."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from PySide6.QtGui import QImage

from gui.model.series import GAP_CM, GAP_S, WAY, Series
from gui.plots.columns import min_max
from gui.plots.raster import Pixels, image_of, paint_spans, rgb32


@dataclass(frozen=True, slots=True)
class Trace:
    """One line of a strip: which channel, how it is called beside the strip, and which of the theme's trace colours."""

    channel: str
    label: str
    tint: int = 0


@dataclass(frozen=True, slots=True)
class StripSpec:
    """What a strip shows. ``bounds``: a fixed range, else the strip fits itself to what it shows."""

    title: str
    unit: str
    traces: tuple[Trace, ...]
    bounds: tuple[float, float] | None = None
    weight: float = 1.0


def nice_step(span: float, wanted: int) -> float:
    """A step of 1, 2 or 5 times a power of ten that cuts ``span`` into about ``wanted`` parts."""
    rough = max(span, 1e-9) / max(wanted, 1)
    power = 10.0 ** math.floor(math.log10(rough))
    return next(factor * power for factor in (1.0, 2.0, 5.0, 10.0) if factor * power >= rough * 0.999)


@dataclass
class Strip:
    """The picture of one strip: ``width`` columns in a ring (column k lies at k modulo width)."""

    spec: StripSpec
    width: int = 1
    height: int = 1
    line_px: float = 1.5
    background: int = 0xFF000000
    grid: int = 0xFF000000
    tints: tuple[int, ...] = ()
    low: float = 0.0
    high: float = 1.0
    _first: int = 0
    _valid: int = 0
    _step: float = 0.0
    _axis: str = ""
    pixels: Pixels = field(default_factory=lambda: np.zeros((1, 1), dtype=np.uint32))
    image: QImage = field(default_factory=QImage)
    _lows: NDArray[np.float64] = field(default_factory=lambda: np.zeros((1, 1)))
    _highs: NDArray[np.float64] = field(default_factory=lambda: np.zeros((1, 1)))

    def resize(self, width: int, height: int, line_px: float, *, background: str, grid: str, tints: tuple[str, ...]) -> None:
        """Start an empty picture of this many pixels in these colours."""
        self.width, self.height, self.line_px = max(1, width), max(1, height), line_px
        self.background, self.grid, self.tints = rgb32(background), rgb32(grid), tuple(map(rgb32, tints))
        self.pixels = np.full((self.height, self.width), self.background, dtype=np.uint32)
        self.image = image_of(self.pixels)
        self._lows = np.full((len(self.spec.traces), self.width), np.nan)
        self._highs = np.full((len(self.spec.traces), self.width), np.nan)
        self._valid = 0
        if self.spec.bounds:
            self.low, self.high = self.spec.bounds

    def forget(self) -> None:
        """The next ``show`` paints everything anew."""
        self._valid = 0

    def ticks(self) -> list[float]:
        """The values at which the strip has a line and a label."""
        step = nice_step(self.high - self.low, 3 if self.height / max(self.line_px, 1) > 60 else 2)
        first = math.ceil(self.low / step - 1e-9)
        return [number * step for number in range(first, math.floor(self.high / step + 1e-9) + 1)]

    def row_of(self, value: float) -> float:
        """The row (with fraction) of a value."""
        return (self.high - value) / (self.high - self.low) * self.height

    def show(self, series: Series, axis: str, first: int, step: float, dirty_from: int) -> None:
        """Bring the picture to the columns from ``first`` on, of ``step`` each; from ``dirty_from`` on, data is new."""
        end = first + self.width
        kept = self._valid and step == self._step and axis == self._axis and abs(first - self._first) < self.width
        self._axis = axis
        if not kept:
            spans = [(first, end)]
        else:
            spans = []
            old_end = self._first + self.width
            if first < self._first:
                spans.append((first, self._first))
                old_end = min(old_end, end)
            begin = max(first, min(dirty_from, old_end))
            if begin < end:
                spans.append((begin, end))
        self._first, self._step, self._valid = first, step, 1
        for begin, stop in spans:
            self._measure(series, axis, begin, stop, step)
        if self._fit():
            spans = [(first, end)]
        for begin, stop in spans:
            self._paint(begin, stop)

    def _measure(self, series: Series, axis: str, begin: int, stop: int, step: float) -> None:
        slots = np.arange(begin, stop) % self.width
        gap = GAP_CM if axis == WAY else GAP_S
        for number, trace in enumerate(self.spec.traces):
            level = series.level(trace.channel, axis, begin * step, stop * step, stop - begin)
            if level is None:
                self._lows[number, slots] = self._highs[number, slots] = np.nan
                continue
            low, high = min_max(level.x, level.low, level.high, first=begin, count=stop - begin, step=step, gap=gap)
            self._lows[number, slots] = low
            self._highs[number, slots] = high

    def _fit(self) -> bool:
        """Fit the range to what is shown; it widens at once and shrinks only when half of it lies idle."""
        if self.spec.bounds:
            return False
        if not np.isfinite(self._lows).any():
            return False
        low, high = float(np.nanmin(self._lows)), float(np.nanmax(self._highs))
        # Where numbers are that large, half a unit is nothing.
        margin = max((high - low) * 0.08, 0.5, 1e-9 * max(abs(low), abs(high)))
        if low >= self.low and high <= self.high and (high - low + 2 * margin) > 0.5 * (self.high - self.low):
            return False
        low, high = low - margin, high + margin
        step = nice_step(high - low, 6)
        low, high = math.floor(low / step) * step, math.ceil(high / step) * step
        if (low, high) == (self.low, self.high):
            return False
        self.low, self.high = low, high
        return True

    def _paint(self, begin: int, stop: int) -> None:
        slots = np.arange(begin, stop) % self.width
        if stop - begin == self.width:
            self.pixels[:] = self.background
            for tick in self.ticks():
                row = round(self.row_of(tick))
                if 0 <= row < self.height:
                    self.pixels[row] = self.grid
        else:
            self.pixels[:, slots] = self.background
            for tick in self.ticks():
                row = round(self.row_of(tick))
                if 0 <= row < self.height:
                    self.pixels[row, slots] = self.grid
        scale = self.height / (self.high - self.low)
        half = self.line_px / 2
        for number, trace in enumerate(self.spec.traces):
            top = (self.high - self._highs[number, slots]) * scale - half
            bottom = (self.high - self._lows[number, slots]) * scale + half
            paint_spans(self.pixels, slots, top, bottom, self.tints[trace.tint % len(self.tints)])
