"""Altered recordings: what the sensor would have sent had one thing been otherwise. Altered, not recorded.

What is known of the robot comes from its recordings (robot_model.py), what they cannot show is assumed (unseen.py); the
physics are the plainest there are:
- speed: the same way in less time, sampled in the sensor's and the loop's own rhythm; standing and turning stay as they are.
- height: the own lamp's light falls, the spot grows with the height.
- light: the own lamp dimmer. Noise is brought up to what the model says of the lower level.
- tint, flicker: other light as a part of what is seen. wear: a part of each marker's departure from the field is gone.
- noise, lost lines, slipping wheels, a slower loop: as their names say.
The sensor's own colour is worked out anew from the altered channels, see code_rule.py.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from telemetry.sample import Columns, SampleTable
from telemetry.tuning.code_rule import CodeRule
from telemetry.tuning.robot_model import RobotModel
from telemetry.tuning.runs import SavedRun, table_like
from telemetry.tuning.signals import (
    DRIVING_CM_S,
    Floats,
    black_of,
    distance_cm,
    field_levels,
    filled,
    full_of,
    is_of_sensor,
    raw_columns,
    speed_cm_s,
    times_ms,
    values,
)
from telemetry.tuning.unseen import LIKELY, Unseen

Rng = np.random.Generator
Rows = NDArray[np.int64]
LATER = {"green": 1, "blue": 2}
"""Channels are measured one after the other, red first."""
DARKEST_PERCENT = 1.0
"""The darkest level seen is not the darkest sample, which noise made."""
FLICKER_HZ = 100.0
"""Lamps on a 50 Hz mains."""


@dataclass(frozen=True, slots=True)
class Alterer:
    """Alters runs of one robot. ``rule``: how its sensor makes its own colour; None where it sends none, or no raw."""

    model: RobotModel
    rule: CodeRule | None = None
    unseen: Unseen = LIKELY

    def speed(self, run: SavedRun, factor: float, rng: Rng) -> SavedRun:
        """The robot ``factor`` times as fast while it drives."""
        table = run.table
        t = times_ms(table)
        speed = speed_cm_s(table)
        moving = np.ones(table.rows, np.bool_) if speed is None else speed > DRIVING_CM_S
        lasts = np.diff(t, prepend=t[0]) / np.where(moving, factor, 1.0)
        then = np.cumsum(lasts)
        loop = max(1.0, self.model.loop_ms.value or 10.0)
        ticks = _ticks(t, loop, float(then[-1]), rng)
        period = self.model.period_ms.value
        # What is reported at a tick was measured a little before, when the robot was less far.
        age = (period or loop) / 2.0
        if period is None:
            # The sensor runs freely beside the loop: what is reported is between nothing and a period old.
            at = ticks - age + (1.0 - 1.0 / factor) * loop * rng.uniform(-0.5, 0.5, len(ticks))
        else:
            at = np.floor((ticks + rng.uniform(0.0, period)) / period) * period - age
        stagger = self.model.stagger_ms.value or 0.0
        there = _nearest(t, np.interp(ticks, then, t))
        columns: Columns = {}
        rows = _nearest(t, np.interp(at, then, t) + age)
        for name, column in table.columns.items():
            late = stagger * LATER.get(name.partition(".")[0], 0)
            seen = _nearest(t, np.interp(at + late, then, t) + age - late) if is_of_sensor(name) else there
            columns[name] = column[seen]
        faster = factor if speed is not None or "speed" in table.columns else 1.0
        for name in [name for name in columns if name.partition(".")[0] == "speed"]:
            columns[name] = np.asarray(columns[name], dtype=np.float64) * faster
        out = self._timed(run, columns, ticks, lambda at: float(np.interp(at, t, then)))
        if factor <= 1.0:
            return out
        # As much as is smeared in the recording is in it already; deviations add by their squares.
        smear_cm = self.unseen.smear * (period or loop) / 1000.0 * (self.model.speed_cm_s.value or 0.0)
        return self._coded(self._blurred(out, smear_cm * np.sqrt(factor**2 - 1.0)), table, rows)

    def height(self, run: SavedRun, factor: float, rng: Rng) -> SavedRun:
        """The sensor ``factor`` times as high: departures shrink, the spot widens."""
        spot = self.model.spot_cm.value or 0.0
        wider = spot * np.sqrt(max(0.0, factor**2 - 1.0))
        return self._lit(self._blurred(run, wider), self.unseen.falls(factor), rng)

    def light(self, run: SavedRun, dimmer: float, rng: Rng) -> SavedRun:
        """The sensor's own light so many times dimmer."""
        return self._lit(run, 1.0 / dimmer, rng)

    def tint(self, run: SavedRun, part: float, rng: Rng) -> SavedRun:
        """Red stronger and blue weaker by ``part`` (below 0: the other way round)."""
        shift = (1.0 + part, 1.0, 1.0 - part)
        return self._shone(run, lambda level, place, _: level * shift[place], rng)

    def flicker(self, run: SavedRun, part: float, rng: Rng) -> SavedRun:
        """Other light on a lamp's mains, ``part`` of what the sensor sees, that swings fully."""
        phase = rng.uniform(0.0, 2 * np.pi)

        def swing(level: Floats, _: int, t: Floats) -> Floats:
            return level * (1.0 + part * np.sin(2 * np.pi * FLICKER_HZ * t / 1000.0 + phase))

        return self._shone(run, swing, rng)

    def wear(self, run: SavedRun, part: float, rng: Rng) -> SavedRun:
        """``part`` of what sets each marker apart from the field is gone."""
        del rng  # the same whatever is drawn, as slip
        levels = {names: field_levels(run.table, names) for names in raw_columns(run.table)}
        columns = dict(run.table.columns)
        for names, fields in levels.items():
            for name in names:
                column = values(run.table, name)
                columns[name] = np.round(fields[name] + (1.0 - part) * (column - fields[name]))
        return self._coded(replace(run, table=_with(run.table, columns)), run.table)

    def noise(self, run: SavedRun, factor: float, rng: Rng) -> SavedRun:
        """Every reading ``factor`` times as noisy."""
        columns = dict(run.table.columns)
        for names in raw_columns(run.table):
            for name in names:
                column = values(run.table, name)
                sd = np.sqrt(self.model.variance(column - black_of(run.table, name)) * (factor**2 - 1.0))
                columns[name] = _counted(run.table, name, column + np.nan_to_num(sd) * rng.normal(size=len(column)))
        return self._coded(replace(run, table=_with(run.table, columns)), run.table)

    def lost(self, run: SavedRun, share: float, rng: Rng) -> SavedRun:
        """``share`` of the lines lost, in gaps as long as this robot's."""
        mean = max(1.0, self.model.gap.value or 3.0)
        rows = run.table.rows
        gone = np.zeros(rows, np.bool_)
        begins = np.flatnonzero(rng.random(rows) < share / mean / max(1e-9, 1.0 - share))
        for begin, length in zip(begins.tolist(), rng.geometric(1.0 / mean, len(begins)).tolist(), strict=True):
            gone[begin : begin + length] = True
        return _rows(run, np.flatnonzero(~gone))

    def slip(self, run: SavedRun, part: float, rng: Rng) -> SavedRun:
        """The wheels count ``part`` too much (below 0: too little), from the beginning of the run."""
        del rng
        columns = dict(run.table.columns)
        for name in [name for name in columns if name.partition(".")[0] == "dist"]:
            column = np.asarray(columns[name], dtype=np.float64)
            columns[name] = column * (1.0 + part)
        return replace(run, table=_with(run.table, columns))

    def loop(self, run: SavedRun, factor: float, rng: Rng) -> SavedRun:
        """The program's loop takes ``factor`` times as long: fewer samples, the same drive."""
        t = times_ms(run.table)
        loop = max(1.0, self.model.loop_ms.value or 10.0)
        ticks = _ticks(t, loop * factor, float(t[-1]), rng)
        rows = np.unique(np.maximum(np.searchsorted(t, ticks, side="right") - 1, 0))
        return _rows(run, rows)

    def _lit(self, run: SavedRun, share: float, rng: Rng) -> SavedRun:
        """Of the own lamp's light ``share`` is left; other light, a part of the darkest level seen, stays."""
        darkest = [
            [max(0.0, float(np.nanpercentile(values(run.table, name), DARKEST_PERCENT)) - black_of(run.table, name))
             for name in names]
            for names in raw_columns(run.table)
        ]  # fmt: skip
        other = self.unseen.other_light * np.min(darkest, axis=0) if darkest else np.zeros(3)
        return self._shone(run, lambda level, place, _: share * level + (1.0 - share) * other[place], rng)

    def _shone(self, run: SavedRun, light: Callable[[Floats, int, Floats], Floats], rng: Rng) -> SavedRun:
        """Every level above black changed by ``light(level, channel, t_ms)``, its noise as of the new level."""
        table = run.table
        t = times_ms(table)
        columns = dict(table.columns)
        for names in raw_columns(table):
            brightness = []
            for place, name in enumerate(names):
                black = black_of(table, name)
                level = values(table, name) - black
                lit = light(level, place, t)
                share = np.divide(lit, level, out=np.ones_like(level), where=np.abs(level) > 1e-9)
                lacking = self.model.variance(lit) - self.model.variance(level) * share**2
                sd = np.sqrt(np.maximum(np.nan_to_num(lacking), 0.0))
                columns[name] = _counted(table, name, black + lit + sd * rng.normal(size=len(lit)))
                brightness.append(share)
            refl = names[0].replace("red", "refl", 1)
            if refl in columns:
                columns[refl] = np.round(np.asarray(columns[refl], np.float64) * np.nanmean(brightness, axis=0))
        return self._coded(replace(run, table=_with(table, columns)), table)

    def _blurred(self, run: SavedRun, sd_cm: float) -> SavedRun:
        """Seen through a spot that is wider by this deviation along the way."""
        way = distance_cm(run.table)
        if way is None or sd_cm <= 0.0:
            return run
        columns = dict(run.table.columns)
        fine = np.arange(way[0], way[-1] + 0.05, 0.05)
        reach = np.arange(-3.0 * sd_cm, 3.0 * sd_cm + 0.05, 0.05)
        kernel = np.exp(-0.5 * (reach / sd_cm) ** 2)
        kernel /= kernel.sum()
        rising = np.concatenate([[True], np.diff(way) > 0])
        if rising.sum() < 3 or len(fine) < len(kernel):
            return run
        for names in raw_columns(run.table):
            for name in names:
                column = filled(values(run.table, name))
                sharp = np.interp(fine, way[rising], column[rising])
                padded = np.pad(sharp, len(kernel) // 2, mode="edge")
                soft = np.convolve(padded, kernel, mode="valid")[: len(fine)]
                # Only what the wider spot changes is taken over, so that the noise stays the robot's own.
                change = np.interp(way, fine, soft) - np.interp(way, fine, sharp)
                noise = np.sqrt(self.model.variance(column - black_of(run.table, name)))
                change = np.sign(change) * np.maximum(np.abs(change) - noise, 0.0)
                columns[name] = column + change
        return replace(run, table=_with(run.table, columns))

    def _coded(self, run: SavedRun, before: SampleTable, rows: Rows | None = None) -> SavedRun:
        if self.rule is None:
            return run
        return replace(run, table=self.rule.recoded(before, run.table, self.unseen.dark, rows))

    def _timed(self, run: SavedRun, columns: Columns, ticks: Floats, moved: Callable[[float], float]) -> SavedRun:
        """Rows at new times, with notes where they belong."""
        table = run.table
        begin = int(np.asarray(table.columns["t_us"])[0])
        columns["t_us"] = begin + np.round(ticks * 1000.0).astype(np.int64)
        if "arrival_us" in columns:
            first = int(np.asarray(table.columns["arrival_us"])[0])
            columns["arrival_us"] = first + np.round(ticks * 1000.0).astype(np.int64)
        if "n" in columns:
            columns["n"] = np.arange(len(ticks), dtype=np.int64)
        notes = []
        for note in table.notes:
            at = moved((note.t_us - begin) / 1000.0)
            notes.append(replace(note, t_us=begin + round(at * 1000.0), row=int(np.searchsorted(ticks, at))))
        return replace(run, table=table_like(table, columns, len(ticks), notes))


def _ticks(t: Floats, period: float, until: float, rng: Rng) -> Floats:
    """When the loop comes round: as unevenly as recorded, from a drawn moment on."""
    gaps = np.diff(t)
    usual = float(np.median(gaps)) if len(gaps) else period
    count = int(until / period * 1.2) + 4
    drawn = rng.choice(gaps, count) if len(gaps) else np.full(count, period)
    ticks = rng.uniform(0.0, period) + np.concatenate([[0.0], np.cumsum(np.minimum(drawn, 4 * usual) * period / usual)])
    out: Floats = ticks[ticks <= until]
    return out if len(out) else np.zeros(1)


def _nearest(t: Floats, at: Floats) -> Rows:
    right = np.clip(np.searchsorted(t, at), 1, len(t) - 1) if len(t) > 1 else np.zeros(len(at), np.int64)
    out: Rows = np.where(at - t[right - 1] < t[right] - at, right - 1, right)
    return np.maximum(out, 0)


def _rows(run: SavedRun, rows: Rows) -> SavedRun:
    """Only these rows; notes stay in their places."""
    columns: Columns = {name: column[rows] for name, column in run.table.columns.items()}
    notes = [replace(note, row=int(np.searchsorted(rows, note.row))) for note in run.table.notes]
    return replace(run, table=table_like(run.table, columns, len(rows), notes))


def _with(table: SampleTable, columns: Columns) -> SampleTable:
    return table_like(table, columns, table.rows, table.notes)


def _counted(table: SampleTable, name: str, column: Floats) -> Floats:
    """As the sensor counts: whole, from 0 to full scale."""
    out: Floats = np.clip(np.round(column), 0.0, full_of(table, name))
    return out
