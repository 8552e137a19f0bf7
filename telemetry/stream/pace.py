"""How fast the robot's loop runs, what was lost, and whether lines only repeat a measurement of a slower sensor."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from telemetry.findings import Finding, FindingKind
from telemetry.sample import Columns

Floats = NDArray[np.float64]

_RAW: Final = ("red", "green", "blue", "refl")
_ENOUGH_CHANGES: Final = 20


@dataclass(frozen=True, slots=True)
class SensorPace:
    """One sensor. ``period_ms``: its measuring period where it is at least about twice the loop's, else None.

    ``repeats``: share of lines that equal the one before in every raw channel. ``told``: False where there were no raw
    channels, or too few changes to tell anything.
    """

    told: bool
    repeats: float
    period_ms: float | None


@dataclass(frozen=True, slots=True)
class Pace:
    """``period_ms`` and ``period99_ms``: median and 99th percentile from line to line, NaN with fewer than two lines.

    ``lines_per_s``: as they came, losses and pauses included. ``sensors``: sensor name ('' for the only one) -> its pace.
    """

    rows: int
    lost: int
    period_ms: float
    period99_ms: float
    lines_per_s: float
    sensors: Mapping[str, SensorPace]

    def findings(self) -> list[Finding]:
        """What a user should know of it."""
        found = []
        if not np.isnan(self.period_ms):
            pace = {"period_ms": self.period_ms, "period99_ms": self.period99_ms, "lines_per_s": self.lines_per_s}
            found.append(Finding(FindingKind.LOOP_PACE, numbers=pace))
        if self.lost:
            found.append(Finding(FindingKind.LINES_LOST, numbers={"lost": self.lost, "rows": self.rows}))
        untold = [name for name, sensor in self.sensors.items() if not sensor.told]
        return found + self.repeats() + [Finding(FindingKind.REPEATS_UNTOLD, cause=name) for name in untold]

    def repeats(self) -> list[Finding]:
        """One for each sensor that is slower than the loop."""
        return [
            Finding(FindingKind.REPEATS, "", name, {"sensor_ms": sensor.period_ms, "period_ms": self.period_ms})
            for name, sensor in self.sensors.items()
            if sensor.period_ms is not None
        ]


def pace_of(columns: Columns, rows: int, lost: int = 0) -> Pace:
    """The pace of a run, from the columns of its table (arrays of shape (rows,)) and its count of lost lines."""
    t_ms = np.asarray(columns.get("t_us", np.empty(0)), dtype=np.float64) / 1000
    boot = np.asarray(columns.get("boot", np.zeros(rows)))
    steps = np.diff(t_ms)
    on = (np.diff(boot) == 0) & (steps > 0)
    spans = float(steps[on].sum())
    consecutive = on
    if "n" in columns:
        follows = on & (np.diff(np.asarray(columns["n"])) == 1)
        consecutive = follows if follows.any() else on
    periods = steps[consecutive]
    period = float(np.median(periods)) if len(periods) else np.nan
    return Pace(
        rows=rows,
        lost=lost,
        period_ms=period,
        period99_ms=float(np.quantile(periods, 0.99)) if len(periods) else np.nan,
        lines_per_s=1000 * int(on.sum()) / spans if spans else 0.0,
        sensors={name: _sensor(columns, name, t_ms, boot, period) for name in _sensors(columns)},
    )


def alias_hz(source_hz: float, samples_per_s: float) -> float:
    """At which frequency a variation of ``source_hz`` appears when sampled: 100 Hz at 90 samples/s is seen as 10 Hz.

    Lamps on a mains of 50 (60) Hz vary at 100 (120) Hz. Sampling theorem.
    """
    return abs(source_hz - samples_per_s * round(source_hz / samples_per_s))


def _sensors(columns: Columns) -> list[str]:
    names: dict[str, None] = {}
    for channel in columns:
        quantity, _, suffix = channel.partition(".")
        if quantity in {*_RAW, "colour"}:
            names[suffix] = None
    return list(names)


def _sensor(columns: Columns, name: str, t_ms: Floats, boot: NDArray[np.generic], period: float) -> SensorPace:
    channels = [f"{quantity}.{name}" if name else quantity for quantity in _RAW]
    raw = [np.asarray(columns[channel], dtype=np.float64) for channel in channels if channel in columns]
    if not raw or len(t_ms) < 2:
        return SensorPace(told=False, repeats=np.nan, period_ms=None)
    same = np.ones(len(t_ms) - 1, dtype=np.bool_)
    for values in raw:
        same &= (values[1:] == values[:-1]) | (np.isnan(values[1:]) & np.isnan(values[:-1]))
    within = np.diff(boot.astype(np.int64)) == 0
    repeats = float(same[within].mean()) if within.any() else np.nan
    changed = np.flatnonzero(~same) + 1
    gaps = np.diff(t_ms[changed])
    gaps = gaps[(np.diff(boot[changed].astype(np.int64)) == 0) & (gaps > 0)]
    if len(gaps) < _ENOUGH_CHANGES:
        return SensorPace(told=False, repeats=repeats, period_ms=None)
    # Over a plain surface nothing changes for long; where something does, the shortest gaps are the sensor's own.
    short = float(np.quantile(gaps, 0.1))
    if short < 1.5 * period:
        return SensorPace(told=True, repeats=repeats, period_ms=None)
    return SensorPace(told=True, repeats=repeats, period_ms=float(gaps[gaps <= 1.75 * short].mean()))
