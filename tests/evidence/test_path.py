"""The most probable path, against published values and hmmlearn."""

from __future__ import annotations

import numpy as np
import pytest
from hmmlearn.hmm import CategoricalHMM
from hypothesis import given
from hypothesis import strategies as st

from telemetry.replay.limit.path import filtered, most_probable_path

# Russell & Norvig, Artificial Intelligence: A Modern Approach, ch. 15 (from memory; hmmlearn gives the same): the umbrella
# world. State 0 rain, 1 dry; observation 0 umbrella, 1 none.
START = np.array([0.5, 0.5])
STEP = np.array([[0.7, 0.3], [0.3, 0.7]])
SEEN = np.array([[0.9, 0.1], [0.2, 0.8]])


def _model(start: np.ndarray, step: np.ndarray, seen: np.ndarray) -> CategoricalHMM:
    model = CategoricalHMM(n_components=len(start))
    model.startprob_, model.transmat_, model.emissionprob_ = start, step, seen
    return model


def test_the_umbrella_worlds_path() -> None:
    observed = np.array([0, 0, 1, 0, 0])
    path, total = most_probable_path(np.log(START), np.log(STEP), np.log(SEEN.T[observed]))
    assert path.tolist() == [0, 0, 1, 0, 0]
    assert np.exp(total) == pytest.approx(0.0115736, abs=1e-7)
    theirs, path_of_theirs = _model(START, STEP, SEEN).decode(observed[:, None], algorithm="viterbi")
    assert total == pytest.approx(theirs)
    assert path.tolist() == path_of_theirs.tolist()


def test_the_umbrella_worlds_filtered_rain() -> None:
    # P(rain at 2 | U U) = 0.883, the book's filtering example.
    assert filtered(np.log(START), np.log(STEP), np.log(SEEN.T[[0, 0]]))[1, 0] == pytest.approx(0.883, abs=5e-4)


@given(st.integers(2, 5), st.integers(2, 12), st.integers(0, 2**32 - 1))
def test_any_path_is_hmmlearns(states: int, times: int, seed: int) -> None:
    rng = np.random.default_rng(seed)
    start, step = rng.dirichlet(np.ones(states)), rng.dirichlet(np.ones(states), states)
    seen = rng.dirichlet(np.ones(4), states)
    observed = rng.integers(0, 4, times)
    _, total = most_probable_path(np.log(start), np.log(step), np.log(seen.T[observed]))
    assert total == pytest.approx(_model(start, step, seen).decode(observed[:, None], algorithm="viterbi")[0])
