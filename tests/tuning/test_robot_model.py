"""What is fitted to recordings is what the simulation drew them with."""

from __future__ import annotations

import math

import pytest

from telemetry import cli
from telemetry.report.model_text import model_lines
from telemetry.tuning.like import driven_like, physics_like
from telemetry.tuning.robot_model import RobotModel, figures, fit_robot
from tuning.made_runs import made, physics_of
from tuning.worlds import WORLDS

NOISY = physics_of(
    "venue", read_noise_counts=4.0, shot_noise=0.0, noise_common=0.5, noise_lag1=0.6, height_ripple=0.0, ambient_max=0.0,
    lost_line_chance=0.01, lost_lines_mean=4.0, missing_value_chance=0.01, loop_ms=12.0,
)  # fmt: skip


@pytest.fixture(scope="module")
def quiet() -> RobotModel:
    return fit_robot([made("practice", seed) for seed in range(5)])


def test_noise_rhythm_and_spot(quiet: RobotModel) -> None:
    """The built-in robot at 'practice': 1.5 counts and what rounding adds; 10 ms; a spot of 3.2 mm radius; 20 cm/s."""
    level = 0.083 * 900
    expected = 1.5**2 + 1 / 12 + 0.15**2 * level
    assert (quiet.floor.value or 0) + (quiet.shot.value or 0) * level == pytest.approx(expected, rel=0.1)
    assert quiet.loop_ms.value == 10.0
    assert quiet.period_ms.value is None
    assert quiet.spot_cm.value == pytest.approx(0.5 * 0.8 * math.tan(math.radians(22)), rel=0.3)
    assert quiet.speed_cm_s.value == pytest.approx(20, rel=0.05)
    assert abs(quiet.common.value or 0) < 0.15
    assert abs(quiet.lag1.value or 0) < 0.15
    for name, one in figures(quiet).items():
        if one.low is not None and one.high is not None and one.value is not None:
            assert one.low <= one.value <= one.high, name


def test_noise_that_is_not_independent_is_seen() -> None:
    model = fit_robot([made("venue", seed, NOISY) for seed in range(5)], intervals=False)
    assert model.common.value == pytest.approx(0.5, abs=0.2)
    assert (model.lag1.value or 0) > 0.25
    assert model.lost.value == pytest.approx(0.04, abs=0.03)
    assert model.gap.value == pytest.approx(4.0, abs=2.0)
    assert model.missing.value == pytest.approx(0.01, abs=0.005)
    assert model.loop_ms.value == pytest.approx(12.0, abs=0.5)


@pytest.mark.timeout(240)
def test_how_wrong_the_distance_is_and_how_high_the_sensor() -> None:
    """Drawn evenly up to 1 % at 'practice', 12 % at 'slipping'; the height on a robot that nothing was fitted to."""
    true, slips = {"practice": 0.01, "slipping": 0.12}, {}
    for level, up_to in true.items():
        found = fit_robot([made(level, seed) for seed in range(8)])
        assert found.slip.value is not None
        assert (found.slip.low or 0.0) <= up_to <= (found.slip.high or 0.0)
        slips[level] = found.slip.value
        assert found.height.value is None, "no palette of its own"
    assert slips["slipping"] > 10 * slips["practice"]
    lab = WORLDS["spectral lab"]
    as_taught, higher = (fit_robot(lab.driven(0, range(3), "height", times)).height for times in (1.0, 1.4))
    assert as_taught.value == pytest.approx(1.0, abs=0.05)
    assert higher.value == pytest.approx(1.4, rel=0.12), "its light falls a little slower than with the square"


def test_a_slow_sensor_has_a_period() -> None:
    slow = physics_of("practice", measuring_ms=40.0)
    model = fit_robot([made("practice", seed, slow) for seed in range(3)], intervals=False)
    assert model.period_ms.value == pytest.approx(40.0, rel=0.1)


def test_the_built_in_robot_is_driven_with_it(quiet: RobotModel, capsys: pytest.CaptureFixture[str]) -> None:
    runs = [made("practice", seed) for seed in range(5)]
    driven = fit_robot(driven_like(physics_like(quiet, runs[0].course), runs[0].course, 5), intervals=False)
    for name in ("loop_ms", "speed_cm_s", "spot_cm", "field", "brightest", "full", "black"):
        within = 0.35 if name == "spot_cm" else 0.1  # a spot is fitted about a quarter too wide
        assert getattr(driven, name).value == pytest.approx(getattr(quiet, name).value, rel=within), name
    assert any("program loop" in line for line in model_lines(quiet, driven))
    assert cli.main(["robot", "--show-model"]) == 2
    assert "--show-model needs --like" in capsys.readouterr().err
