"""The interval of a margin holds the true one as often as it says, of few runs too: made-up runs whose margin is known."""

from __future__ import annotations

from statistics import NormalDist

import numpy as np
import pytest

from telemetry.tuning.crossing import RIGHT_SHARE, crossing, drawn_anew

VALUES = np.geomspace(1.0, 8.0, 17)
MIDDLE, SPREAD = np.log(2.5), 0.35


def true_margin() -> float:
    """Where 95 % of those right as recorded still are: runs' own margins are spread log-normally."""
    spread = NormalDist(MIDDLE, SPREAD)
    right_at_first = 1.0 - spread.cdf(0.0)
    return float(np.exp(spread.inv_cdf(1.0 - RIGHT_SHARE * right_at_first)))


@pytest.mark.parametrize("runs", [6, 10, 30])
def test_the_interval_holds_the_true_margin(runs: int) -> None:
    rng = np.random.default_rng(runs)
    held, widths = 0, []
    for _ in range(40):
        margins = np.exp(rng.normal(MIDDLE, SPREAD, runs))
        low, high = drawn_anew(VALUES, (margins[None, :] >= VALUES[:, None]).astype(float))
        held += low <= true_margin() <= high
        widths.append(high / low)
    assert held >= 0.9 * 40
    assert np.median(widths) < {6: 2.2, 10: 2.1, 30: 1.7}[runs], "and is not for nothing"


def test_luck_of_one_step_is_pooled_away() -> None:
    assert crossing(np.array([1.0, 2.0, 3.0, 4.0]), np.array([1.0, 1.0, 0.9, 0.5])) == pytest.approx(2.5)
    assert crossing(np.array([1.0, 2.0]), np.array([0.8, 0.79])) is None
