"""Two directions at once: what fails first, and a pair that is right at harder values than those at which it fails."""

from __future__ import annotations

import numpy as np
import pytest

from telemetry.report.stress_text import pair_words
from telemetry.tuning.directions import asked_directions
from telemetry.tuning.pairs import TriedPair, tried_pair, uneven_margins, uneven_places
from telemetry.tuning.robot_model import fit_robot
from tuning.made_runs import made

SPEED, HEIGHT = asked_directions("speed,height")
DOWN, ACROSS = (1.0, 1.5, 2.0, 3.0), (1.0, 1.2, 1.4)


class _Judging:
    """A stand-in: shares by place, of one run."""

    right = np.ones(1, np.bool_)

    def __init__(self, shares: dict[tuple[float, float], float]) -> None:
        self.shares = shares
        self.asked: list[tuple[float, float]] = []

    def tell(self, what: str, done: int, of: int) -> None:
        assert 0 < done <= of, what

    def right_at(self, steps):
        place = (steps[0][1], steps[1][1])
        self.asked.append(place)
        share = self.shares.get(place, 1.0)
        return np.array([share]), np.array([0 if share == 1.0 else DOWN.index(place[0]) + 1])

    def failed_first(self, failed):
        return (f"row {int(failed[0]) - 1}", "tag 1")


def tried(shares: dict[tuple[float, float], float]) -> tuple[TriedPair, _Judging]:
    judging = _Judging(shares)
    return tried_pair(judging, (SPEED, DOWN), (HEIGHT, ACROSS)), judging


def test_what_fails_first_is_named_and_the_hopeless_is_not_tried() -> None:
    found, judging = tried({(2.0, 1.0): 0.9, (3.0, 1.0): 0.6, (2.0, 1.2): 0.75, (3.0, 1.2): 0.6, (1.5, 1.4): 0.4})
    assert found.first_failure == ("row 2", "tag 1")
    assert (2.0, 1.4) not in judging.asked
    assert np.isnan(found.shares[2:, 2]).all()
    said = found.said(fit_robot([made("practice", 1)], intervals=False), alone=33.0)
    assert said.shares[2][2] is None
    assert said.right_up_to[0] == 33.0
    assert said.right_up_to[1] == pytest.approx(said.first_values[0] * (1.5 + 0.5 * 0.05 / 0.25))
    assert said.right_up_to[2] == pytest.approx(said.first_values[0] * (1.0 + 0.5 * 0.05 / 0.6))
    assert said.uneven is None
    assert pair_words(said, "cm/s", "factor") == "First to fail: tag 1 in row 2."


def test_a_pair_right_at_harder_values_is_said_to_be_uneven() -> None:
    found, _ = tried({(1.5, 1.0): 0.9, (1.5, 1.2): 0.8, (3.0, 1.4): 0.7})
    assert uneven_places(found.shares) == ((1, 1), (1, 2))
    said = found.said(fit_robot([made("practice", 1)], intervals=False), alone=None)
    words = pair_words(said, "cm/s", "factor")
    assert "Uneven: it fails from speed 30" in words
    assert "with height 1.2 times as high, though it is right at 30" in words
    assert "1.4 times as high, which is no easier" in words
    rising, _ = tried({(3.0, 1.0): 0.6, (2.0, 1.2): 0.6, (3.0, 1.2): 0.6, (2.0, 1.4): 0.6, (3.0, 1.4): 0.6})
    said = rising.said(fit_robot([made("practice", 1)], intervals=False), alone=25.0)
    words = pair_words(said, "cm/s", "factor")
    assert "Uneven: it fails from speed 25 cm/s with height as it is, though it is right at 31.2 cm/s" in words
    assert uneven_margins([30.0, 25.0, None, 20.0], ACROSS) is None
    assert uneven_places(np.array([[1.0, 1.0], [1.0, 0.9], [0.8, np.nan]])) is None
