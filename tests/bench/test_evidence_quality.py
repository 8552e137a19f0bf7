"""What reading by evidence promises, on a few dozen simulated runs; bench_evidence.py prints it for hundreds."""

from __future__ import annotations

import pytest
from sklearn.calibration import calibration_curve
from sklearn.metrics import brier_score_loss

from .bench_evidence import Tally, measured


@pytest.fixture(scope="module")
def tally() -> Tally:
    return measured(96)


@pytest.mark.bench
def test_evidence_misreads_far_less_than_the_best_simple_strategy(tally: Tally) -> None:
    assert tally.misread("evidence", "both") <= 0.1 * tally.misread(tally.best_simple("both"), "both") + 1 / 96
    assert tally.misread("evidence", "codes") <= 0.75 * tally.misread(tally.best_simple("codes"), "codes") + 1 / 96


@pytest.mark.bench
def test_its_certainty_is_true(tally: Tally) -> None:
    runs = [one for (mode, _), said in tally.said.items() if mode == "both" for one in said]
    said, true = [one[0] for one in runs], [one[1] for one in runs]
    assert brier_score_loss(true, said) < 0.03
    true_share, said_share = calibration_curve(true, said, n_bins=2, strategy="quantile")
    assert abs(true_share[-1] - said_share[-1]) < 0.05
    _, sure, wrong = tally.sure("both")
    assert wrong <= max(1, 0.01 * sure)
    many, sure, _ = tally.sure("both", "practice")
    assert sure >= 0.8 * many
