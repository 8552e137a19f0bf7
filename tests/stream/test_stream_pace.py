"""The loop's period, lost lines, and lines that only repeat a measurement."""

from __future__ import annotations

import numpy as np
import pytest

from telemetry.sample import Columns
from telemetry.stream.pace import alias_hz, pace_of
from telemetry.wording import sentences


def columns(loop_ms: float, sensor_ms: float, *, seconds: float = 5, jitter_ms: float = 0.0, still: bool = False) -> Columns:
    """A loop that sends the latest measurement; the sensor measures noise on a plain or changing surface."""
    rng = np.random.default_rng(3)
    count = int(seconds * 1000 / loop_ms)
    t_ms = np.arange(count) * loop_ms + rng.uniform(0, jitter_ms, count)
    measured = (t_ms // sensor_ms).astype(int)
    surface = rng.integers(0, 1024, (int(seconds * 1000 / sensor_ms) + 2, 3)).astype(float)
    if still:
        surface[: len(surface) * 2 // 3] = surface[0]
    red, green, blue = surface[measured].T
    boot = np.zeros(count, dtype=np.int64)
    return {"t_us": (t_ms * 1000).astype(np.int64), "boot": boot, "red": red, "green": green, "blue": blue}


@pytest.mark.parametrize(("loop", "sensor"), [(5, 20), (5, 12.5), (2, 7), (10, 25), (10, 30)])
@pytest.mark.parametrize("still", [False, True])
@pytest.mark.parametrize("jitter", [0.0, 0.5])
def test_a_sensor_slower_than_the_loop(loop: float, sensor: float, still: bool, jitter: float) -> None:
    made = columns(loop, sensor, still=still, jitter_ms=jitter)
    pace = pace_of(made, len(made["t_us"]))
    assert pace.period_ms == pytest.approx(loop, rel=0.05)
    assert pace.sensors[""].period_ms == pytest.approx(sensor, rel=0.08)
    assert any("The loop is faster than the sensor" in said for said in sentences(pace.findings()))


@pytest.mark.parametrize("still", [False, True])
def test_a_sensor_as_fast_as_the_loop(still: bool) -> None:
    made = columns(5, 5, still=still)
    pace = pace_of(made, len(made["t_us"]))
    assert pace.sensors[""].period_ms is None
    assert pace.sensors[""].told
    assert len(sentences(pace.findings())) == 1


def test_coarse_readings_that_repeat_by_chance() -> None:
    rng = np.random.default_rng(1)
    made = columns(5, 5)
    made = {name: column for name, column in made.items() if name not in {"red", "green", "blue"}}
    made["refl"] = rng.integers(0, 3, len(made["t_us"])).astype(float)
    pace = pace_of(made, len(made["t_us"]))
    assert pace.sensors[""].period_ms is None
    assert pace.sensors[""].repeats == pytest.approx(1 / 3, abs=0.06)


def test_two_sensors_each_its_own() -> None:
    made, slow = columns(5, 5), columns(5, 20)
    made["red.side"] = slow["red"]
    pace = pace_of(made, len(made["t_us"]))
    assert pace.sensors[""].period_ms is None
    assert pace.sensors["side"].period_ms == pytest.approx(20, rel=0.05)
    assert any("the sensor 'side'" in said for said in sentences(pace.findings()))


def test_codes_alone_do_not_tell() -> None:
    made = columns(5, 20)
    made = {"t_us": made["t_us"], "boot": made["boot"], "colour": np.zeros(len(made["t_us"]), dtype=np.int16)}
    pace = pace_of(made, len(made["t_us"]))
    assert not pace.sensors[""].told
    assert any("cannot be told" in said for said in sentences(pace.findings()))


def test_period_and_rate_with_losses_and_a_restart() -> None:
    n = np.array([0, 1, 2, 5, 6, 0, 1], dtype=np.int64)
    t = np.array([0, 10, 20, 50, 60, 3, 13], dtype=np.int64) * 1000
    boot = np.array([0, 0, 0, 0, 0, 1, 1], dtype=np.int64)
    pace = pace_of({"t_us": t, "n": n, "boot": boot}, 7, lost=2)
    assert pace.period_ms == 10.0
    assert pace.period99_ms == 10.0
    assert pace.lines_per_s == pytest.approx(1000 * 5 / 70)
    assert any("2 lines were lost" in said for said in sentences(pace.findings()))


@pytest.mark.parametrize("rows", [0, 1])
def test_next_to_nothing(rows: int) -> None:
    made = {name: column[:rows] for name, column in columns(5, 5).items()}
    pace = pace_of(made, rows)
    assert np.isnan(pace.period_ms)
    assert pace.lines_per_s == 0.0
    sentences(pace.findings())


def test_mains_flicker_sampled() -> None:
    # Sampling theorem: 100 Hz (lamps on a 50 Hz mains) at 90 samples/s appears at 10 Hz.
    assert alias_hz(100, 90) == pytest.approx(10)
    assert alias_hz(120, 100) == pytest.approx(20)
    assert alias_hz(100, 1000) == pytest.approx(100)


@pytest.mark.parametrize("rate", [90.0, 77.0, 250.0])
def test_the_alias_is_what_a_spectrum_shows(rate: float) -> None:
    count = int(rate * 20)
    spectrum = np.abs(np.fft.rfft(np.sin(2 * np.pi * 100 * np.arange(count) / rate + 0.3)))
    assert np.fft.rfftfreq(count, 1 / rate)[spectrum.argmax()] == pytest.approx(alias_hz(100, rate), abs=0.05)


@pytest.mark.parametrize(("changes", "told"), [(20, False), (21, True)])
def test_of_a_few_changes_nothing_is_said(changes: int, told: bool) -> None:
    """Twenty gaps between changes are the least from which a sensor's own period is told."""
    t = np.arange(1000, dtype=np.int64) * 10_000
    red = np.minimum(np.arange(1000) // 4, changes).astype(float)
    made: Columns = {"t_us": t, "red": red, "boot": np.zeros(1000, dtype=np.int64)}
    pace = pace_of(made, 1000)
    assert [one.told for one in pace.sensors.values()] == [told]
