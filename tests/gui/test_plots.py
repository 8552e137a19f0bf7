"""What the plots draw is what the samples say: columns, pyramid, ribbon, series."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from gui.model.pyramid import Heads, Pyramid, PyramidLevel
from gui.model.series import TIME, WAY, Series
from gui.plots.columns import last_colour, min_max
from gui.plots.raster import paint_spans, rgb32
from gui.plots.ribbon import Lane
from gui.plots.strip import Strip, StripSpec, Trace
from gui.plots.view import View
from gui.swatches import SwatchBook
from telemetry.sample import SampleTable
from telemetry.stream.decoder import Decoder


def samples(seed: int, count: int = 500, rate_hz: float = 100.0) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    lot = np.random.default_rng(seed)
    return np.cumsum(lot.uniform(0.2, 1.8, count)) / rate_hz, lot.normal(0, 10, count)


@given(st.integers(0, 1000), st.integers(-50, 400), st.floats(0.003, 0.3))
def test_columns_hold_exactly_the_values_in_them(seed: int, first: int, step: float) -> None:
    x, y = samples(seed)
    low, high = min_max(x, y, y, first=first, count=60, step=step, gap=0.0)
    for number in range(60):
        inside = y[(x >= (first + number) * step) & (x < (first + number + 1) * step)]
        if len(inside):
            assert (low[number], high[number]) == (inside.min(), inside.max())
        else:
            assert np.isnan(low[number])


@given(st.integers(0, 1000), st.integers(0, 300), st.integers(1, 59))
def test_nothing_shimmers_while_the_picture_moves(seed: int, first: int, moved: int) -> None:
    x, y = samples(seed)
    before = min_max(x, y, y, first=first, count=60, step=0.05, gap=0.25)
    after = min_max(x, y, y, first=first + moved, count=60, step=0.05, gap=0.25)
    for old, new in zip(before, after, strict=True):
        np.testing.assert_array_equal(old[moved:], new[: 60 - moved])


def test_a_line_joins_samples_in_different_columns_but_never_over_a_gap() -> None:
    x = np.array([0.0, 1.0, 3.0])
    y = np.array([0.0, 10.0, 30.0])
    low, high = min_max(x, y, y, first=0, count=7, step=0.5, gap=1.5)
    assert low[1] == pytest.approx(5.0)
    assert high[1] == pytest.approx(10.0)
    assert np.isnan(low[3]), "between 1 and 3 lies a gap"


def test_missing_values_leave_a_hole() -> None:
    x = np.arange(6.0)
    y = np.array([1.0, np.nan, np.nan, np.nan, 2.0, 3.0])
    low, _ = min_max(x, y, y, first=0, count=6, step=1.0, gap=0.5)
    assert np.isnan(low[1:4]).all()


@given(st.integers(0, 200), st.floats(0.0, 150.0), st.floats(1.0, 400.0))
@settings(max_examples=40)
def test_the_pyramid_draws_the_same_envelope_as_all_samples(seed: int, start: float, span: float) -> None:
    x, y = samples(seed, 40_000)
    pyramid, heads = Pyramid(y), Heads(x)
    number = heads.level_for(start, start + span, 100)
    level = (
        PyramidLevel(heads.levels[number], pyramid.lows[number - 1], pyramid.highs[number - 1])
        if number
        else PyramidLevel(x, y, y)
    )
    step = span / 100
    first = int(start / step)
    low, high = min_max(level.x, level.low, level.high, first=first, count=100, step=step, gap=10.0)
    true_low, true_high = min_max(x, y, y, first=first, count=100, step=step, gap=10.0)
    # A block may hang over into the next column, so the envelope of three columns is compared.
    wide_low = np.fmin(np.fmin(true_low, np.roll(true_low, 1)), np.roll(true_low, -1))
    wide_high = np.fmax(np.fmax(true_high, np.roll(true_high, 1)), np.roll(true_high, -1))
    inside = np.isfinite(low) & np.isfinite(wide_low)
    inside[[0, -1]] = False
    rounded = 1e-6 * np.abs(y).max()  # levels are kept in single precision
    assert (low[inside] >= wide_low[inside] - rounded).all()
    assert (high[inside] <= wide_high[inside] + rounded).all()
    assert np.nanmax(high, initial=-1e9) <= max(np.nanmax(true_high, initial=-1e9), y.max()) + rounded


def test_a_flicker_of_one_sample_is_never_hidden_in_the_ribbon() -> None:
    x = np.arange(1000) / 1000.0
    codes = np.zeros(1000, dtype=np.int64)
    codes[503] = 4
    shown = last_colour(x, codes, first=0, count=20, step=0.05, broken=lambda rows: rows < 0, hold=0.0)
    assert shown[10] == 4
    assert set(np.delete(shown, 10)) == {0}


def test_the_ribbon_holds_a_colour_until_the_next_sample_but_not_over_a_gap() -> None:
    x = np.array([0.0, 0.4, 5.0])
    codes = np.array([2, 3, 2])
    shown = last_colour(x, codes, first=0, count=60, step=0.1, broken=lambda rows: rows == 1, hold=0.25)
    assert list(shown[:7]) == [2, 2, 2, 2, 3, 3, 3]
    assert set(shown[7:50]) == {-1}


def test_lost_lines_are_a_gap_in_the_ribbon() -> None:
    """Three lines lost in mid-marker: two samples of a colour must not look like six."""
    lines = ["#t/ms,colour,dist/cm"]
    sent = [ms for ms in range(0, 2000, 25) if not 1040 < ms < 1120]
    lines += [f"{ms},{'sky' if 1000 <= ms < 1075 else 'none'},{ms / 40:g}" for ms in sent]
    table = SampleTable()
    for chunk in Decoder().feed(("\n".join(lines) + "\n").encode(), 1_700_000_000_000_000):
        table.append(chunk)
    series = Series()
    series.take(table)
    assert series.usual_s == pytest.approx(0.025)
    rows = np.arange(series.rows - 1)
    for axis in (TIME, WAY):
        assert list(np.flatnonzero(series.broken(rows, axis))) == [41]
    lane = Lane("", "colour", SwatchBook(("sky",)), table.colours)
    lane.resize(400, 20, 1.0, "#ffffff")
    lane.show(series, TIME, 0, 0.004, 0)
    sky = table.colours.index("sky")
    assert list(np.flatnonzero(lane.codes == sky)) == list(range(250, 263))
    assert (lane.codes[263:280] == -1).all()


@given(st.lists(st.tuples(st.floats(-5, 45), st.floats(0.1, 30)), min_size=1, max_size=40), st.integers(0, 39))
def test_spans_cover_the_rows_they_should(spans: list[tuple[float, float]], shift: int) -> None:
    """Few spans and many, from any column of the ring on."""
    ground, ink = rgb32("#000000"), rgb32("#ffffff")
    pixels = np.full((40, 40), ground, dtype=np.uint32)
    top = np.array([begin for begin, _ in spans])
    bottom = top + np.array([length for _, length in spans])
    columns = (np.arange(len(spans)) + shift) % 40
    paint_spans(pixels, columns, top, bottom, ink)
    for column, begin, end in zip(columns, top, bottom, strict=True):
        for row in range(40):
            covered = min(end, row + 1) - max(begin, row)
            shade = int(pixels[row, column]) & 255
            assert abs(shade - 255 * min(max(covered, 0.0), 1.0)) <= 3


def table_of(rows: int, *, restart_at: int | None = None) -> SampleTable:
    t_us = np.arange(rows, dtype=np.int64) * 10_000
    boot = np.zeros(rows, dtype=np.int64)
    if restart_at is not None:
        t_us[restart_at:] -= t_us[restart_at]
        boot[restart_at:] = 1
    arrival = np.arange(rows, dtype=np.int64) * 10_000 + 1_700_000_000_000_000
    lot = np.random.default_rng(3)
    columns = {
        "t_us": t_us, "arrival_us": arrival, "boot": boot, "dist": np.arange(rows) * 0.2 + lot.normal(0, 0.02, rows),
        "heading": np.zeros(rows), "refl": lot.uniform(0, 100, rows), "colour": lot.integers(-1, 4, rows).astype(np.int16),
    }  # fmt: skip
    return SampleTable(columns=columns, rows=rows, colours=("none", "rust", "leaf", "sky"))  # type: ignore[arg-type]


def part_of(table: SampleTable, rows: int) -> SampleTable:
    return SampleTable(
        columns={name: column[:rows] for name, column in table.columns.items()}, rows=rows, colours=table.colours
    )


@given(st.lists(st.integers(1, 299), max_size=8), st.sampled_from([None, 120]))
def test_a_series_is_the_same_however_the_run_came_in(cuts: list[int], restart_at: int | None) -> None:
    table = table_of(300, restart_at=restart_at)
    whole = Series.whole(table)
    grown = Series()
    for rows in [*sorted(set(cuts)), 300]:
        grown.take(part_of(table, rows))
    for axis in (TIME, WAY):
        np.testing.assert_allclose(grown.axis(axis), whole.axis(axis), atol=1e-9)
    for name in whole.channels:
        np.testing.assert_array_equal(grown.channel(name), whole.channel(name))  # type: ignore[arg-type]
    assert grown.gaps == whole.gaps


def test_a_restart_goes_on_after_the_time_it_took() -> None:
    table = table_of(300, restart_at=120)
    table.columns["arrival_us"][120:] += 2_000_000  # type: ignore[operator]
    time_s = Series.whole(table).time_s
    assert (np.diff(time_s) >= 0).all()
    assert time_s[120] - time_s[119] == pytest.approx(2.01, abs=0.01)


def test_standing_still_adds_no_way() -> None:
    table = table_of(600)
    table.columns["dist"] = 30.0 + np.random.default_rng(1).normal(0, 0.05, 600)
    assert Series.whole(table).way_cm[-1] < 2.0


def test_a_strip_that_moves_on_equals_one_drawn_anew() -> None:
    table = table_of(3000)
    series = Series.whole(table)
    spec = StripSpec("x", "", (Trace("refl", ""),), (0.0, 100.0))
    view = View(width=300, span=10.0, end=12.0)

    def fresh() -> Strip:
        strip = Strip(spec)
        strip.resize(300, 60, 1.5, background="#000000", grid="#222222", tints=("#ffffff",))
        return strip

    moving = fresh()
    for end in (12.0, 12.4, 13.1, 12.9, 20.0):
        view.end = end
        moving.show(series, TIME, view.first, view.step, view.first)
    anew = fresh()
    anew.show(series, TIME, view.first, view.step, view.first)
    np.testing.assert_array_equal(moving.pixels, anew.pixels)


@given(st.lists(st.floats(allow_nan=True, allow_infinity=True), min_size=1, max_size=20))
@settings(deadline=None)
def test_any_number_can_be_shown(values: list[float]) -> None:
    table = table_of(len(values))
    table.columns["refl"] = np.array(values)
    series = Series.whole(table)
    strip = Strip(StripSpec("x", "", (Trace("refl", ""),)))
    strip.resize(100, 60, 1.5, background="#000000", grid="#222222", tints=("#ffffff",))
    view = View(width=100, span=1.0, end=0.5)
    strip.show(series, TIME, view.first, view.step, view.first)
    assert strip.high > strip.low
    assert all(0 <= strip.row_of(tick) <= strip.height for tick in strip.ticks())


@pytest.mark.parametrize("pauses_ms", [[10] * 450 + [30] * 300, [2, 2, 26] * 200])
def test_a_robot_that_sends_unevenly_has_lost_nothing(pauses_ms: list[int]) -> None:
    lines = ["#t/ms,colour", *(f"{ms},sky" for ms in np.cumsum([0, *pauses_ms]))]
    table = SampleTable()
    for chunk in Decoder().feed(("\n".join(lines) + "\n").encode(), 1_700_000_000_000_000):
        table.append(chunk)
    series = Series()
    series.take(table)
    assert series.broken(np.arange(series.rows - 1), TIME).sum() <= 1, "where the rate changes, at most"
