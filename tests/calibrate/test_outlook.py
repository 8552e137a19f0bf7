"""What a palette is said to be good for."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import norm

from telemetry.calibrate.build import build_palette, lag1
from telemetry.calibrate.capture import StillCapture
from telemetry.calibrate.outlook import expected_samples, fall_off, normal_tail, pairs, reaches, samples_over, stop_point
from telemetry.reading.evidence.table import wald_bounds


def still(colour: str, *mean: float, noise: float = 3.0, height: float | None = None, rows: int = 300) -> StillCapture:
    values = np.column_stack([
        np.random.default_rng([len(colour), int(mean[0])]).normal(mean, noise, (rows, len(mean))),
        np.full((rows, 4 - len(mean)), np.nan),
    ])  # fmt: skip
    return StillCapture(colour, values, {colour: 1.0}, 100.0, height)


def test_walds_bounds() -> None:
    # Wald, Sequential Tests of Statistical Hypotheses, 1945: A = (1 - b) / a, B = b / (1 - a).
    upper, lower = wald_bounds(0.05, 0.10)
    assert math.exp(upper) == pytest.approx(18.0)
    assert math.exp(lower) == pytest.approx(0.10 / 0.95)


def test_walds_test_keeps_its_promise_on_independent_samples() -> None:
    distance, error, runs = 1.0, 0.05, 2000
    upper, lower = wald_bounds(error, error)
    rng = np.random.default_rng(5)
    steps = (
        rng.normal(distance / 2, 1.0, (runs, 400)) * distance
    )  # log-likelihood ratio of each sample where the first holds
    sums = steps.cumsum(axis=1)
    stop = ((sums >= upper) | (sums <= lower)).argmax(axis=1)
    wrong = float((sums[np.arange(runs), stop] <= lower).mean())
    assert wrong <= error / (1 - error)
    # Wald's expected number leaves out what the sum overshoots the bound by, so the real one is somewhat larger.
    assert expected_samples(distance, error) <= float(stop.mean() + 1) <= 1.5 * expected_samples(distance, error)


def test_dependent_samples_count_less() -> None:
    rng = np.random.default_rng(6)
    rho, many = 0.6, 200
    noise = np.empty((3000, many))
    noise[:, 0] = rng.normal(size=3000)
    for t in range(1, many):
        noise[:, t] = rho * noise[:, t - 1] + math.sqrt(1 - rho**2) * rng.normal(size=3000)
    worse = float(noise.mean(axis=1).var() * many)
    assert expected_samples(0.5, lag1=rho) / expected_samples(0.5) == pytest.approx(worse, rel=0.15)
    assert lag1(noise[:20].reshape(-1, 1)) == pytest.approx(rho, abs=0.08)


def test_the_tail_is_scipys() -> None:
    for x in (0.0, 0.7, 2.0, 5.0):
        assert normal_tail(x) == pytest.approx(float(norm.sf(x)), rel=1e-9)


def test_samples_over_a_marker() -> None:
    # Arithmetic: 3.2 cm at 50 cm/s and 100 samples/s.
    assert samples_over(3.2, 50.0, 100.0) == pytest.approx(6.4)


def test_colours_that_are_alike_are_named_first() -> None:
    palette = build_palette([
        still("none", 100, 100, 100), still("rust", 400, 120, 80), still("orange", 410, 125, 82), still("sky", 90, 200, 500),
    ])  # fmt: skip
    found = pairs(palette)
    assert {found[0].first, found[0].second} == {"rust", "orange"}
    assert found[0].verdict in {"will be confused", "cannot be told apart"}
    assert found[-1].verdict == "safe"
    assert found[0].ciede2000 is not None
    assert found[0].ciede2000 < 5.0


def test_predicted_confusion_is_what_single_samples_do() -> None:
    rng = np.random.default_rng(7)
    noise = 30.0
    palette = build_palette(
        [still("none", 10, 10, 10), still("a", 300, 300, 300, noise=noise), still("b", 340, 300, 300, noise=noise)]
    )
    pair = next(one for one in pairs(palette) if {one.first, one.second} == {"a", "b"})
    spread = math.sqrt(noise**2 + (0.04 * 320) ** 2)
    wrong = float((rng.normal(300, spread, 100_000) > 320).mean())
    assert pair.confusion == pytest.approx(wrong, abs=0.03)


def test_light_that_falls_with_the_square_of_the_height_is_recognised() -> None:
    near = {"none": (50, 50, 50), "rust": (800, 200, 100), "sky": (100, 300, 700)}
    captures = [
        still(name, *(value * (10 / mm) ** 2 for value in level), height=mm)
        for name, level in near.items()
        for mm in (8.0, 12.0)
    ]
    palette = build_palette(captures)
    power = fall_off(palette)
    assert power == pytest.approx(2.0, abs=0.1)
    assert all(reach.top_height_mm and reach.top_height_mm > 12.0 for reach in reaches(palette))
    assert palette.get("rust").by_height[0][0] == 8.0  # type: ignore[union-attr]


def test_one_height_says_nothing_about_others() -> None:
    palette = build_palette([still("none", 50, 50, 50), still("rust", 400, 100, 50)])
    assert fall_off(palette) is None
    assert [reach.top_height_mm for reach in reaches(palette)] == [None]


def test_the_stop_point_spreads_as_two_even_delays_do() -> None:
    rng = np.random.default_rng(8)
    speed, rate, loop_ms, latency_ms = 40.0, 50.0, 20.0, 30.0
    late_s = rng.uniform(0, 1 / rate, 200_000) + rng.uniform(0, loop_ms / 1000, 200_000) + latency_ms / 1000
    middle, spread = stop_point(speed, rate, loop_ms, latency_ms, 1.0)
    assert middle == pytest.approx(float(late_s.mean() * speed), rel=0.01)
    assert spread == pytest.approx(float(late_s.std() * speed), rel=0.01)
