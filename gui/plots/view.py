"""Which part of a run is in view, counted in columns of pixels from a fixed zero."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from gui.model.series import TIME, WAY

LIVE_WINDOW = {TIME: 30.0, WAY: 200.0}
"""How much a live picture shows at first: seconds, centimetres."""
LIVE_BOUNDS = {TIME: (2.0, 600.0), WAY: (10.0, 2000.0)}
SMALLEST = {TIME: 0.2, WAY: 1.0}


@dataclass
class View:
    """``end``: the right edge in seconds or centimetres. ``live``: the right edge follows the newest sample."""

    axis: str = TIME
    width: int = 1
    span: float = LIVE_WINDOW[TIME]
    end: float = LIVE_WINDOW[TIME]
    live: bool = True
    live_span: dict[str, float] = field(default_factory=LIVE_WINDOW.copy)
    """What a live picture shows, along either axis."""

    def follow(self) -> None:
        """Show as much as was chosen for a live picture."""
        self.span = self.live_span[self.axis]

    def zoom_live(self, factor: float) -> None:
        """The newest sample stays at the right edge."""
        least, most = LIVE_BOUNDS[self.axis]
        self.live_span[self.axis] = min(max(self.span * factor, least), most)
        self.follow()

    @property
    def step(self) -> float:
        """What one column stands for."""
        return self.span / self.width

    @property
    def first(self) -> int:
        """The leftmost column; whole, so that a sample never changes its column while the picture moves."""
        return math.floor(self.end / self.step + 1e-6) - self.width + (1 if self.live else 0)

    @property
    def start(self) -> float:
        return self.first * self.step

    def pixel_of(self, value: float) -> float:
        """The column (with fraction) in the picture where ``value`` lies."""
        return value / self.step - self.first

    def value_at(self, pixel: float) -> float:
        return (self.first + pixel) * self.step

    def zoom(self, factor: float, pixel: float, whole: float) -> None:
        """Make the span ``factor`` times as long around the value under ``pixel``; never longer than all of ``whole``."""
        fixed = self.value_at(pixel)
        self.span = min(max(self.span * factor, SMALLEST[self.axis]), max(whole * 1.05, SMALLEST[self.axis]))
        self.end = fixed + (self.width - pixel) * self.step
        self.keep_within(whole)

    def pan(self, columns: float, whole: float) -> None:
        self.end += columns * self.step
        self.keep_within(whole)

    def keep_within(self, whole: float) -> None:
        """Do not run past the ends of a run that is ``whole`` long."""
        self.end = max(min(self.end, max(whole, self.span) + self.span * 0.02), min(self.span, whole + self.span * 0.02))
