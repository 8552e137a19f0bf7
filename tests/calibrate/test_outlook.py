"""What a palette is said to be good for."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from physics.cases import there
from physics.layouts import Motion, lagged
from physics.spliced import ABSENT, Spliced
from scipy.stats import norm

from telemetry.calibrate.build import build_palette, lag1
from telemetry.calibrate.capture import StillCapture, still_capture
from telemetry.calibrate.outlook import alike, fall_off, normal_tail, pairs, samples_over, stop_point
from telemetry.palette import Palette
from telemetry.reading.evidence.table import wald_bounds


def still(colour: str, *mean: float, noise: float = 3.0, height: float | None = None, rows: int = 300) -> StillCapture:
    values = np.column_stack([
        np.random.default_rng([len(colour), int(mean[0])]).normal(mean, noise, (rows, len(mean))),
        np.full((rows, 4 - len(mean)), np.nan),
    ])  # fmt: skip
    return StillCapture(colour, values, {}, 100.0, height)


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


def test_the_dependence_of_successive_samples_is_found() -> None:
    rng = np.random.default_rng(6)
    rho, many = 0.6, 200
    noise = np.empty((3000, many))
    noise[:, 0] = rng.normal(size=3000)
    for t in range(1, many):
        noise[:, t] = rho * noise[:, t - 1] + math.sqrt(1 - rho**2) * rng.normal(size=3000)
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
    assert found[0].verdict == "one to this sensor"
    assert alike(palette) == ["rust and orange are one colour to this sensor: take another surface for one of them"]
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
    assert pair.by_raw == pytest.approx(wrong, abs=0.03)
    assert pair.by_code is None


def coded(palette: Palette, **codes: dict[str, float]) -> Palette:
    return replace(palette, colours=tuple(replace(one, codes=codes.get(one.name, {})) for one in palette.colours))


def test_codes_that_tell_two_colours_apart_are_counted() -> None:
    bare = build_palette([still("none", 10, 10, 10), still("rust", 400, 120, 80), still("orange", 404, 121, 80)])
    told = coded(bare, none={"none": 1.0}, rust={"rust": 0.98, "orange": 0.02}, orange={"orange": 0.97, "rust": 0.03})
    pair = next(one for one in pairs(told) if {one.first, one.second} == {"rust", "orange"})
    # Bayes' error of two equally likely colours: half of what the two distributions share, (0.03 + 0.02) / 2.
    assert pair.by_code == pytest.approx(0.025)
    assert pair.verdict == "now and then confused"
    assert not alike(told)
    same = coded(bare, none={"none": 1.0}, rust={"rust": 1.0}, orange={"rust": 1.0})
    assert len(alike(same)) == 1
    apart = build_palette([still("none", 10, 10, 10), still("rust", 400, 120, 80), still("orange", 90, 121, 400)])
    merged = coded(apart, none={"none": 1.0}, rust={"rust": 1.0}, orange={"rust": 1.0})
    pair = next(one for one in pairs(merged) if {one.first, one.second} == {"rust", "orange"})
    assert pair.verdict == "safe by levels only"


def test_codes_alone_make_pairs_too() -> None:
    captures = [
        replace(still(name, 1.0), values=np.full((100, 4), np.nan), codes=codes)
        for name, codes in (("none", {"none": 1.0}), ("rust", {"red": 1.0}), ("leaf", {"green": 0.9, "none": 0.1}))
    ]
    found = pairs(build_palette(captures))
    assert (found[0].first, found[0].second) == ("none", "leaf")
    assert found[0].by_code == pytest.approx(0.05)
    assert found[0].by_raw is None
    assert found[0].samples is None


def test_samples_come_from_tries_and_dependence_costs_some() -> None:
    rng = np.random.default_rng(6)

    def held(colour: str, level: float, rho: float) -> StillCapture:
        noise = lagged(rng, (400, 3), rho) * 30.0
        return StillCapture(colour, np.column_stack([level + noise, np.full(400, np.nan)]), {}, 100.0)

    needed = {}
    for rho in (0.0, 0.9):
        captures = [held("none", 50, rho), StillCapture("a", held("a", 300, rho).values, {}, 100.0), held("b", 300, rho)]
        captures[2] = replace(captures[2], values=captures[2].values + np.array([60.0, -60.0, 0.0, 0.0]))
        pair = next(one for one in pairs(build_palette(captures), captures) if (one.first, one.second) == ("a", "b"))
        needed[rho] = pair.samples
    assert needed[0.0]
    assert needed[0.9] is not None
    assert needed[0.9] == 0 or needed[0.9] > needed[0.0]


def test_on_real_readings_what_is_said_to_be_enough_is_enough() -> None:
    """Of pairs of blocks whose samples are said to tell them apart in 99 of 100: at least 97 of 100 in other readings."""
    if not there("spliced"):
        pytest.skip(ABSENT)
    tried = right = said = 0
    rng = np.random.default_rng(9)
    for setup in range(4):
        made = Spliced(setup, "poses")
        names = [name for name in made.colours if name != "none"]
        captures = [still_capture(name, made.still(name)) for name in ("none", *names)]
        palette = build_palette(captures)
        for pair in pairs(palette, captures):
            if not pair.samples or "none" in {pair.first, pair.second}:
                continue
            said += 1
            for own in (pair.first, pair.second):
                for _ in range(20):
                    look = made._run_of(own, pair.samples, rng).mean(axis=0)
                    best = min((pair.first, pair.second), key=lambda name: away(palette, name, look))
                    tried += 1
                    right += best == own
    assert said >= 15
    assert right >= 0.97 * tried


@pytest.mark.parametrize(("level", "speed_cm_s"), [("poses", 12.0), ("poses", 60.0), ("one take", 30.0)])
def test_on_real_readings_what_is_said_holds_at_a_speed(level: str, speed_cm_s: float) -> None:
    """A pair, a speed and a number of samples: where a marker passed at that speed yields as many samples as the pair needs
    for 99 of 100, their mean, mixed edges included, tells the pair apart at least 97 times of 100.
    """
    if not there("spliced"):
        pytest.skip(ABSENT)
    tried = right = 0
    for setup in range(4):
        made = Spliced(setup, level)
        captures = [still_capture(name, made.still(name)) for name in made.colours]
        palette = build_palette(captures)
        needed = {frozenset((pair.first, pair.second)): pair.samples for pair in pairs(palette, captures)}
        steady = Motion(speed=(speed_cm_s, speed_cm_s), scale=0.0, start_cm=0.0, slip_cm=0.0)
        made.level = replace(made.level, motion=steady)
        for seed in range(3):
            table, truth = made.drive(seed)
            levels = np.stack([table.columns[name] for name in ("red", "green", "blue")], axis=1)
            rate_hz = 1e6 / float(np.median(np.diff(table.columns["t_us"])))
            for slot, own in zip(made.course.slots, truth, strict=True):
                over = np.abs(table.columns["dist"] - (slot.at_cm or 0.0)) <= (slot.width_cm or 0.0) / 2
                yields = samples_over(slot.width_cm or 0.0, speed_cm_s, rate_hz)
                for other in palette.names:
                    number = needed.get(frozenset((own, other)))
                    if other in {own, "none"} or not number or number > yields:
                        continue
                    look = levels[over].mean(axis=0)
                    tried += 1
                    right += away(palette, own, look) < away(palette, other, look)
    assert tried >= 150
    assert right >= 0.97 * tried


def away(palette: Palette, name: str, look: np.ndarray) -> float:
    """How unlikely a colour is: its spread, a surface a little other, and a common factor, as a reader allows for."""
    known = palette.get(name)
    assert known is not None
    mean = known.mean[:3]
    spread = known.covariance[:3, :3] + np.diag((0.04 * mean) ** 2) + 0.07**2 * np.outer(mean, mean)
    return float((look - mean) @ np.linalg.solve(spread, look - mean) + np.linalg.slogdet(spread)[1])


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
    assert palette.get("rust").by_height[0][0] == 8.0  # type: ignore[union-attr]


def test_one_height_says_nothing_about_others() -> None:
    palette = build_palette([still("none", 50, 50, 50), still("rust", 400, 100, 50)])
    assert fall_off(palette) is None


def test_the_stop_point_spreads_as_two_even_delays_do() -> None:
    rng = np.random.default_rng(8)
    speed, rate, loop_ms, latency_ms = 40.0, 50.0, 20.0, 30.0
    late_s = rng.uniform(0, 1 / rate, 200_000) + rng.uniform(0, loop_ms / 1000, 200_000) + latency_ms / 1000
    middle, spread = stop_point(speed, rate, loop_ms, latency_ms, 1.0)
    assert middle == pytest.approx(float(late_s.mean() * speed), rel=0.01)
    assert spread == pytest.approx(float(late_s.std() * speed), rel=0.01)
