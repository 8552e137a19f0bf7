"""The robot's clock against the computer's."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from telemetry.stream.clock import fit_clock, theil_sen

Ints = NDArray[np.int64]


def run(seconds: int, *, ppm: float, seed: int = 1, offset: int = 1_700_000_000_000_000) -> tuple[Ints, Ints, Ints]:
    """Columns t_us, arrival_us, boot of a robot whose clock is ``ppm`` fast; lines come at least 0.5 ms late."""
    rate = 200
    rng = np.random.default_rng(seed)
    t = np.arange(seconds * rate, dtype=np.int64) * (1_000_000 // rate)
    true = t / (1 + ppm * 1e-6)
    arrival = offset + true + 500 + rng.exponential(2000, len(t))
    return t, np.maximum.accumulate(arrival).astype(np.int64), np.zeros(len(t), dtype=np.int64)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_slope_and_bounds_are_those_of_scipy(seed: int) -> None:
    # scipy.stats.theilslopes (Sen 1968), on a small case without ties.
    rng = np.random.default_rng(seed)
    x = np.sort(rng.uniform(0, 10, 25))
    y = 3 * x + rng.normal(0, 1, 25)
    y[3] += 100
    expected = stats.theilslopes(y, x, 0.95)
    assert theil_sen(x, y) == pytest.approx((expected.slope, expected.low_slope, expected.high_slope))


@pytest.mark.parametrize("ppm", [-150.0, 0.0, 40.0, 3000.0])
def test_drift_offset_and_jitter(ppm: float) -> None:
    (fit,) = fit_clock(*run(60, ppm=ppm))
    assert fit.drift_ppm == pytest.approx(ppm, abs=5)
    assert fit.drift_low_ppm <= fit.drift_ppm <= fit.drift_high_ppm
    assert fit.offset_us == pytest.approx(1_700_000_000_000_500, abs=150)
    # An exponential delay with a mean of 2 ms: median 1.4 ms, 99th percentile 9.2 ms (2 ln 2, 2 ln 100). Lines that
    # queue behind a late one add to it.
    assert 1200 < fit.delay_us < 2500
    assert 8000 < fit.delay99_us < 12_000
    assert not fit.handed_over
    assert fit.unix_us(30_000_000) == pytest.approx(1_700_000_000_000_500 + 30e6 / (1 + ppm * 1e-6), abs=300)


def test_slow_stretches_do_not_move_it() -> None:
    t, arrival, boot = run(60, ppm=40.0)
    for second in (3, 11, 12, 40, 58):
        arrival[second * 200 : (second + 1) * 200] += 300_000
    (fit,) = fit_clock(t, arrival, boot)
    assert fit.drift_ppm == pytest.approx(40, abs=5)
    assert fit.delay99_us > 250_000


def test_a_second_that_arrives_at_once_tells_no_drift() -> None:
    t = np.arange(100, dtype=np.int64) * 10_000
    (fit,) = fit_clock(t, np.full(100, 1_700_000_000_000_000), np.zeros(100, dtype=np.int64))
    assert np.isnan([fit.drift_ppm, fit.drift_low_ppm, fit.drift_high_ppm]).all()
    assert fit.sentence().startswith("Too short to compare")


def test_blocks_of_lines_that_arrive_together() -> None:
    t, arrival, boot = run(60, ppm=40.0)
    arrival = arrival.reshape(-1, 20).max(axis=1).repeat(20)
    (fit,) = fit_clock(t, arrival, boot)
    assert fit.drift_ppm == pytest.approx(40, abs=30)


def test_each_start_has_its_own_fit() -> None:
    first, second = run(20, ppm=40.0), run(20, ppm=40.0, seed=2, offset=1_700_000_100_000_000)
    fits = fit_clock(*(np.concatenate(pair) for pair in zip(first[:2], second[:2], strict=True)), np.repeat([0, 1], 4000))
    assert [fit.boot for fit in fits] == [0, 1]
    assert fits[1].offset_us - fits[0].offset_us == pytest.approx(100_000_000, abs=300)


def test_a_stream_handed_over_afterwards_says_nothing() -> None:
    t, arrival, boot = run(10, ppm=0.0)
    (fit,) = fit_clock(t, np.full_like(arrival, 5), boot)
    assert fit.handed_over
    assert np.isnan(fit.drift_ppm)
    assert "handed over" in fit.sentence()


@pytest.mark.parametrize("rows", [1, 2, 50])
def test_too_short_for_a_drift(rows: int) -> None:
    (fit,) = fit_clock(*(column[:rows] for column in run(1, ppm=0.0)))
    assert np.isnan(fit.drift_ppm)
    assert fit.sentence().startswith("Too short")


def test_nothing_at_all() -> None:
    assert fit_clock(np.empty(0), np.empty(0), np.empty(0)) == []


def test_in_words() -> None:
    (fit,) = fit_clock(*run(60, ppm=-150.0))
    assert "150 ppm slow" in fit.sentence()
