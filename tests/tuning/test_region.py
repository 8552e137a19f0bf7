"""What is recommended is the middle of a region that works, not the luckiest point."""

from __future__ import annotations

import numpy as np

from telemetry.tuning.region import Scores, choose, depth_of


def _scores(totals: list[int], runs: int, right: np.ndarray | None = None) -> Scores:
    """Settings in a row that read so many runs right, each the first of them."""
    matrix = np.arange(runs)[:, None] < np.array(totals)[None, :] if right is None else right
    count = matrix.shape[1]
    return Scores(matrix, np.zeros(count), np.zeros(count), np.zeros(count))


def test_the_middle_not_the_edge() -> None:
    choice = choose(_scores([3, 9, 20, 20, 20, 20, 20, 8, 1], 20), (9,), (True,))
    assert choice.place == 4
    assert choice.least == 20


def test_an_overfitted_setting_is_not_recommended() -> None:
    """One setting reads all 24 by luck, between neighbours that read half; a plateau reads 23. The plain score takes it."""
    totals = [10, 12, 24, 12, 11, 15, 23, 23, 23, 23, 23, 16]
    scores = _scores(totals, 24)
    assert int(np.argmax(scores.right.sum(axis=0))) == 2
    choice = choose(scores, (12,), (True,))
    assert choice.place == 8
    assert choice.least == 23


def test_a_lone_setting_that_is_truly_better_is_recommended() -> None:
    """Six runs better is no luck: the region's rule must not throw it away."""
    assert choose(_scores([3, 20, 14, 14, 14, 14, 14], 24), (7,), (True,)).place == 1


def test_room_in_two_directions_and_switches_have_no_neighbours() -> None:
    works = np.zeros((7, 7), dtype=bool)
    works[1:6, 1:6] = True
    assert depth_of(works, (True, True))[3, 3] == 3
    assert depth_of(works, (True, True))[1, 3] == 1
    switch = np.array([[True] * 5, [False] * 5])
    assert depth_of(switch, (False, True)).tolist() == [[5] * 5, [0] * 5]


def test_of_equals_altered_copies_then_the_earliest_decide() -> None:
    right = np.ones((4, 3), dtype=bool)
    base = Scores(right, np.array([0.5, 0.9, 0.9]), np.array([1.0, 7.0, 3.0]), np.zeros(3))
    assert choose(base, (3,), (False,)).place == 2
