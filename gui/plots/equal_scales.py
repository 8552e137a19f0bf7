"""Two runs on equal scales: the same height means the same value in both."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from gui.model.series import Series
from gui.plots.strip import StripSpec, nice_step


def with_equal_scales(specs: Sequence[StripSpec], several: Sequence[Series]) -> list[StripSpec]:
    """Each strip with the range that holds all of its traces in all of these; one of a fixed range stays as it is."""
    return [spec if spec.bounds else replace(spec, bounds=_bounds(spec, several)) for spec in specs]


def _bounds(spec: StripSpec, several: Sequence[Series]) -> tuple[float, float] | None:
    """None where nothing was sent."""
    lows, highs = [], []
    for series in several:
        for trace in spec.traces:
            extent = series.extent(trace.channel)
            if extent is not None:
                lows.append(extent[0])
                highs.append(extent[1])
    if not lows:
        return None
    low, high = min(lows), max(highs)
    margin = max((high - low) * 0.04, 0.5, 1e-9 * max(abs(low), abs(high)))
    step = nice_step(high - low + 2 * margin, 6)
    return math.floor((low - margin) / step) * step, math.ceil((high + margin) / step) * step
