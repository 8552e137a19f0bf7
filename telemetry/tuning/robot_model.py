"""A model of one's own robot from its recordings: noise, its correlation, the sensor's rhythm, spot, light, gaps.

Each figure with an interval (bootstrap over runs, 95 %). Nothing is known here but what the recordings show; what they
cannot show is None.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from telemetry.tuning.runs import SavedRun
from telemetry.tuning.signals import (
    Floats,
    black_of,
    driving_speed,
    full_of,
    loop_ms,
    raw_columns,
    speed_cm_s,
    times_ms,
    values,
)
from telemetry.tuning.spot import rises_of, spot_sd_cm, staggers_ms, weighted_median
from telemetry.tuning.way import leg_fits, times_as_high

BOOTSTRAPS = 200
STANDING_CM_S = 0.5
LEAST_PAIRS = 6
LEAST_LEGS = 3
MOST_FITTED = 24
"""In so many runs markers are fitted; more add time and little else."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """A figure and its 95 % interval; ``value`` None where the recordings do not show it."""

    value: float | None
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True)
class RobotModel:
    """``noise``: variance of one reading in counts^2 = floor + shot x level above black, as (floor, shot).

    ``common``: correlation of the channels' noise with each other; ``lag1``: of a channel's noise from one measurement to
    the next. ``period_ms``: the sensor's own, None where it is no longer than the loop. ``spot_cm``: standard deviation of
    the spot's response along the way; ``stagger_ms``: how much later each channel is measured than the one before.
    ``field`` and ``brightest``: levels of the field and of the brightest marker, parts of full scale (``full`` and ``black``
    counts). ``lost``: share of lines lost, ``gap``: mean lines a gap; ``missing``: share of single values missing.
    ``slip`` and ``start_cm``: the distance told is wrong by up to this part, and at the beginning of the first leg by up to
    so much, both ways, if such errors are evenly spread. ``height``: of the sensor, as a multiple of that at which the
    palette was captured.
    """

    runs: int
    simulated: bool
    floor: Estimate
    shot: Estimate
    common: Estimate
    lag1: Estimate
    loop_ms: Estimate
    loop_jitter: Estimate
    period_ms: Estimate
    spot_cm: Estimate
    stagger_ms: Estimate
    field: Estimate
    brightest: Estimate
    speed_cm_s: Estimate
    black: Estimate
    full: Estimate
    lost: Estimate
    gap: Estimate
    missing: Estimate
    slip: Estimate
    start_cm: Estimate
    height: Estimate

    def variance(self, level: Floats) -> Floats:
        """Of one reading's noise at a level above black."""
        floor, shot = self.floor.value or 0.0, self.shot.value or 0.0
        out: Floats = floor + shot * np.maximum(level, 0.0)
        return out


def fit_robot(runs: Sequence[SavedRun], *, intervals: bool = True) -> RobotModel:
    """Fit all that the runs show. ``intervals`` False: values only, for alterations. Needs scipy for the spot alone."""

    def over(of: Callable[[SavedRun], float | None]) -> Estimate:
        found = [one for run in runs if (one := of(run)) is not None and np.isfinite(one)]
        return _estimate(np.array(found), intervals)

    still = [point for run in runs for point in still_points(run)]
    floor, shot = _noise([noise_points(run) for run in runs], still, intervals)
    correlations = {run.name: _correlations(run) for run in runs}
    step = -(-len(runs) // MOST_FITTED)
    rises = {run.name: rises_of(run) if k % step == 0 else [] for k, run in enumerate(runs)}
    legs = [leg_fits(run, rises[run.name]) for run in runs]
    return RobotModel(
        runs=len(runs), simulated=any(run.simulated for run in runs), floor=floor, shot=shot,
        common=over(lambda run: correlations[run.name][0]), lag1=over(lambda run: correlations[run.name][1]),
        loop_ms=over(loop_ms), loop_jitter=over(_jitter), period_ms=over(period_ms),
        spot_cm=over(lambda run: spot_sd_cm(rises[run.name])),
        stagger_ms=_stagger([staggers_ms(rises[run.name]) for run in runs], intervals),

        field=over(lambda run: level_of(run, 50.0)), brightest=over(lambda run: level_of(run, 99.0)),
        speed_cm_s=over(driving_speed), black=over(_black), full=over(_full),
        lost=over(_lost), gap=over(_gap), missing=over(_missing),
        slip=_spread([[leg.slip for leg in fits] for fits in legs], intervals, around=0.0),
        start_cm=_spread([[leg.start_cm for leg in fits if leg.leg == 0] for fits in legs], intervals),
        height=over(times_as_high),
    )  # fmt: skip


def _estimate(found: Floats, intervals: bool) -> Estimate:
    if not len(found):
        return Estimate(None)
    middle = float(np.median(found))
    if not intervals or len(found) < 2:
        return Estimate(middle)
    rng = np.random.default_rng(0)
    drawn = np.median(found[rng.integers(0, len(found), (BOOTSTRAPS, len(found)))], axis=1)
    return Estimate(middle, float(np.percentile(drawn, 2.5)), float(np.percentile(drawn, 97.5)))


def _stagger(of_runs: Sequence[list[tuple[float, float]]], intervals: bool) -> Estimate:
    """Over the markers of all runs together, for one run shows too little of it."""
    some = [found for found in of_runs if found]
    if sum(map(len, some)) < LEAST_PAIRS:
        return Estimate(None)
    value = max(0.0, weighted_median([pair for found in some for pair in found]))
    if not intervals or len(some) < 2:
        return Estimate(value)
    rng = np.random.default_rng(0)
    drawn = [
        weighted_median([pair for k in rng.integers(0, len(some), len(some)) for pair in some[k]]) for _ in range(BOOTSTRAPS)
    ]
    return Estimate(value, float(np.percentile(drawn, 2.5)), float(np.percentile(drawn, 97.5)))


def _spread(of_runs: Sequence[list[float]], intervals: bool, around: float | None = None) -> Estimate:
    """How far errors go that are evenly spread ``around`` a value, their own median where there is none: half of them are
    less than half as far.
    """
    some = [found for found in of_runs if found]
    if sum(map(len, some)) < LEAST_LEGS:
        return Estimate(None)

    def reach(found: Sequence[list[float]]) -> float:
        errors = np.concatenate(found)
        return 2.0 * float(np.median(np.abs(errors - (np.median(errors) if around is None else around))))

    if not intervals:
        return Estimate(reach(some))
    rng = np.random.default_rng(0)
    drawn = [reach([some[k] for k in rng.integers(0, len(some), len(some))]) for _ in range(BOOTSTRAPS)]
    return Estimate(reach(some), float(np.percentile(drawn, 2.5)), float(np.percentile(drawn, 97.5)))


def measurements(run: SavedRun, names: tuple[str, ...]) -> NDArray[np.int64]:
    """The rows at which the sensor had a new measurement: where any of its channels differs from the row before."""
    stacked = np.stack([values(run.table, name) for name in names])
    known = np.isfinite(stacked).all(axis=0)
    changed = np.ones(run.table.rows, dtype=np.bool_)
    changed[1:] = (np.diff(stacked, axis=1) != 0).any(axis=0)
    return np.flatnonzero(known & changed)


def period_ms(run: SavedRun) -> float | None:
    """The sensor's own period, where it is longer than the loop: then rows repeat the measurement before, all channels."""
    for names in raw_columns(run.table):
        rows = measurements(run, names)
        moved = values(run.table, names[0])
        if len(rows) < 20 or np.nanstd(moved) == 0:
            continue
        gaps = np.diff(times_ms(run.table)[rows])
        loop = loop_ms(run)
        return float(np.mean(gaps[gaps < 4 * np.median(gaps)])) if np.median(gaps) > 1.4 * loop else None
    return None


def noise_points(run: SavedRun) -> list[tuple[float, float, int]]:
    """(level above black, variance of one reading, readings) in bins of level.

    From the second differences of successive measurements, whose variance is six times that of independent noise; the
    smallest quarter of their sizes tells (0.3186 deviations of a normal distribution), so edges of markers do not count.
    """
    points = []
    for names in raw_columns(run.table):
        rows = measurements(run, names)
        for name in names:
            column = values(run.table, name)[rows]
            if len(column) < 20:
                continue
            level = (column[:-2] + column[1:-1] + column[2:]) / 3.0 - black_of(run.table, name)
            second = _second(column)
            inside = column[1:-1] < full_of(run.table, name)
            if not inside.any():
                continue
            for low, high in pairwise(np.unique(np.percentile(level[inside], [0, 20, 40, 60, 80, 95])).tolist()):
                here = inside & (level >= low) & (level <= high)
                if here.sum() >= 12:
                    quarter = np.percentile(np.abs(second[here]), 25)
                    points.append((float(level[here].mean()), float((quarter / 0.3186) ** 2 / 6.0), int(here.sum())))
    return points


def _second(column: Floats) -> Floats:
    """Second differences; counts are whole, so a drawn part of one is added, else percentiles of small ones jump."""
    dither = np.random.default_rng(0).uniform(-0.5, 0.5, len(column) - 2)
    out: Floats = column[:-2] - 2.0 * column[1:-1] + column[2:] + dither
    return out


def still_points(run: SavedRun) -> list[tuple[float, float]]:
    """(level above black, variance) of each channel while the robot stands: nothing but noise."""
    speed = speed_cm_s(run.table)
    if speed is None:
        return []
    points = []
    for names in raw_columns(run.table):
        rows = measurements(run, names)
        rows = rows[speed[rows] < STANDING_CM_S]
        for name in names:
            column = values(run.table, name)[rows]
            if len(column) >= 12:
                quarter = np.percentile(np.abs(_second(column)), 50) / 0.6745
                points.append((float(np.median(column)) - black_of(run.table, name), float(quarter**2 / 6.0)))
    return points


def _noise(
    of_runs: Sequence[list[tuple[float, float, int]]], still: Sequence[tuple[float, float]], intervals: bool
) -> tuple[Estimate, Estimate]:
    """Floor and shot. Where a standing robot is much quieter than the fit says, edges of markers are in it: then half of
    the variance of standing is taken for the floor and half for shot noise (an assumption, no source).
    """
    some = [points for points in of_runs if points]
    if not some:
        return Estimate(None), Estimate(None)
    floor, shot = _line([point for points in some for point in points])
    if len(still) >= 3:
        level, variance = (float(one) for one in np.median(np.array(still), axis=0))
        if variance < 0.5 * (floor + shot * level):
            return Estimate(variance / 2.0), Estimate(variance / 2.0 / max(level, 1.0))
    if not intervals or len(some) < 2:
        return Estimate(floor), Estimate(shot)
    rng = np.random.default_rng(0)
    drawn = np.array([
        _line([point for k in rng.integers(0, len(some), len(some)) for point in some[k]]) for _ in range(BOOTSTRAPS)
    ])  # fmt: skip
    low, high = np.percentile(drawn, 2.5, axis=0), np.percentile(drawn, 97.5, axis=0)
    return Estimate(floor, float(low[0]), float(high[0])), Estimate(shot, float(low[1]), float(high[1]))


def _line(points: Sequence[tuple[float, float, int]]) -> tuple[float, float]:
    """Variance = floor + shot x level, neither below 0; relative errors count, and points far off count less (Huber)."""
    level, variance, count = np.array(points, dtype=np.float64).T
    weight = np.sqrt(count)
    floor, shot = float(np.median(variance)), 0.0
    for _ in range(30):
        expected = np.maximum(floor + shot * level, 1e-6)
        off = weight * (variance - expected) / expected
        robust = weight**2 / expected**2 * np.minimum(1.0, 2.0 / np.maximum(np.abs(off), 1e-9))
        total, mean = robust.sum(), (robust * level).sum() / robust.sum()
        spread = (robust * (level - mean) ** 2).sum()
        slope = (robust * (level - mean) * variance).sum() / spread if spread > 1e-9 else 0.0
        shot = max(0.0, float(slope))
        floor = float((robust * (variance - shot * level)).sum() / total)
        if floor < 0.0:
            floor, shot = 0.0, float((robust * level * variance).sum() / (robust * level**2).sum())
    return floor, shot


def _correlations(run: SavedRun) -> tuple[float | None, float | None]:
    """(of the channels with each other, of a channel with its next measurement), of what is quick over flat stretches."""
    for names in raw_columns(run.table):
        rows = measurements(run, names)
        stacked = np.stack([values(run.table, name)[rows] for name in names])
        if stacked.shape[1] < 60:
            continue
        smooth = np.stack([np.convolve(line, np.ones(9) / 9, mode="same") for line in stacked])
        rest = (stacked - smooth)[:, 5:-5]
        slope = np.abs(smooth[:, 10:] - smooth[:, :-10]).max(axis=0)[: rest.shape[1]]
        flat = slope <= np.percentile(slope, 50)
        if flat.sum() < 30 or (rest[:, flat].std(axis=1) == 0).any():
            continue
        table = np.corrcoef(rest[:, flat])
        pairs = flat[1:] & flat[:-1]
        lag = [np.corrcoef(line[1:][pairs], line[:-1][pairs])[0, 1] for line in rest]
        # What a mean over nine takes out of white noise shows as -1/9 or so; put back.
        return float(table[np.triu_indices(3, 1)].mean()), float(np.mean(lag) + 1.0 / 9.0)
    return None, None


def level_of(run: SavedRun, percentile: float) -> float | None:
    """A level above black as a part of full scale: of the brightest channel above the median, else the mean of all."""
    found = []
    for names in raw_columns(run.table):
        for name in names:
            full, black = _full(run), black_of(run.table, name)
            if full is not None and full > black:
                found.append((float(np.nanpercentile(values(run.table, name), percentile)) - black) / (full - black))
    return max(found) if found and percentile > 50 else float(np.mean(found)) if found else None


def _black(run: SavedRun) -> float | None:
    return next((black_of(run.table, names[0]) for names in raw_columns(run.table)), None)


def _full(run: SavedRun) -> float | None:
    """Full scale as the stream says it, else the greatest count seen."""
    for names in raw_columns(run.table):
        said = full_of(run.table, names[0])
        return said if np.isfinite(said) else float(max(np.nanmax(values(run.table, name)) for name in names))
    return None


def _jitter(run: SavedRun) -> float | None:
    gaps = np.diff(times_ms(run.table))
    if len(gaps) < 10 or np.median(gaps) <= 0:
        return None
    return float((np.percentile(gaps, 84) - np.percentile(gaps, 16)) / 2.0 / np.median(gaps))


def _numbers(run: SavedRun) -> NDArray[np.int64] | None:
    if "n" not in run.table.columns:
        return None
    numbers = np.asarray(run.table.columns["n"][: run.table.rows], dtype=np.int64)
    return numbers[numbers >= 0]


def _lost(run: SavedRun) -> float | None:
    numbers = _numbers(run)
    if numbers is None or len(numbers) < 2:
        return None
    return float(1.0 - len(numbers) / (numbers[-1] - numbers[0] + 1))


def _gap(run: SavedRun) -> float | None:
    numbers = _numbers(run)
    if numbers is None:
        return None
    gaps = np.diff(numbers) - 1
    return float(gaps[gaps > 0].mean()) if (gaps > 0).any() else None


def _missing(run: SavedRun) -> float | None:
    shares = [float(np.isnan(values(run.table, name)).mean()) for names in raw_columns(run.table) for name in names]
    return float(np.mean(shares)) if shares else None


def figures(model: RobotModel) -> Mapping[str, Estimate]:
    """Every figure by name, for people and files."""
    return {name: value for name in RobotModel.__slots__ if isinstance(value := getattr(model, name), Estimate)}
