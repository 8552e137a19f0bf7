"""The interval of a margin holds the true one as often as it says, of few runs too: made-up runs whose margin is known."""

from __future__ import annotations

from statistics import NormalDist

import numpy as np
import pytest

from telemetry.tuning.crossing import RIGHT_SHARE, crossing, interval95

VALUES = np.geomspace(1.0, 8.0, 17)
MIDDLE = np.log(2.5)


def true_margin(sigma: float) -> float:
    """Where 95 % of those right as recorded still are: runs' own margins are spread log-normally."""
    spread = NormalDist(MIDDLE, sigma)
    right_at_first = 1.0 - spread.cdf(0.0)
    return float(np.exp(spread.inv_cdf(1.0 - RIGHT_SHARE * right_at_first)))


@pytest.mark.parametrize(
    ("runs", "sigma", "width"),
    [(6, 0.35, 2.2), (10, 0.35, 2.1), (30, 0.35, 1.7), (30, 0.6, 1.6), (45, 0.35, 1.6), (100, 0.35, 1.6), (100, 0.6, 1.5)],
)
def test_the_interval_holds_the_true_margin(runs: int, sigma: float, width: float) -> None:
    rng = np.random.default_rng(runs)
    held, widths = 0, []
    for _ in range(40):
        margins = np.exp(rng.normal(MIDDLE, sigma, runs))
        low, high = interval95(VALUES, (margins[None, :] >= VALUES[:, None]).astype(float))
        held += low <= true_margin(sigma) <= high
        widths.append(high / low)
    assert held >= 0.9 * 40
    assert np.median(widths) < width, "and is not for nothing"


def test_luck_of_one_step_is_pooled_away() -> None:
    assert crossing(np.array([1.0, 2.0, 3.0, 4.0]), np.array([1.0, 1.0, 0.9, 0.5])) == pytest.approx(2.5)
    assert crossing(np.array([1.0, 2.0]), np.array([0.8, 0.79])) is None
