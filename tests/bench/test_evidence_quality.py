"""What reading by evidence promises, on a few dozen simulated runs; bench_evidence.py prints it for hundreds."""

from __future__ import annotations

import pytest
from scipy.stats import binomtest
from sklearn.calibration import calibration_curve
from sklearn.metrics import brier_score_loss

from .bench_evidence import LEVELS, Tally, measured


@pytest.fixture(scope="module")
def tally() -> Tally:
    return measured(96)


@pytest.mark.bench
def test_the_limit_is_not_beaten(tally: Tally) -> None:
    # On few runs a guess more or less may go either way: it must not be more than chance (sign test, one-sided).
    for mode in ("both", "codes"):
        for name in {who for who, how, _ in tally.right if how == mode} - {"the limit"}:
            better = worse = 0
            for level in LEVELS:
                pairs = zip(tally.right.get((name, mode, level), []), tally.right["the limit", mode, level], strict=False)
                for one, limit in pairs:
                    better += one and not limit
                    worse += limit and not one
            assert better <= worse or binomtest(better, better + worse, alternative="greater").pvalue > 0.05, (mode, name)


@pytest.mark.bench
def test_evidence_misreads_hardly_more_than_the_limit(tally: Tally) -> None:
    simple = tally.best_simple("both")
    assert tally.excess("evidence", "both") <= 0.1 * tally.excess(simple, "both") + 1 / 96
    simple = tally.best_simple("codes")
    assert tally.excess("evidence", "codes") <= 0.5 * tally.excess(simple, "codes") + 1 / 96


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
