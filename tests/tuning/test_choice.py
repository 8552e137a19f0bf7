"""Statistics of choosing, against statsmodels and scipy, and by drawing."""

from __future__ import annotations

import numpy as np
import pytest

from telemetry.tuning.choice import (
    Rival,
    StrategyChoice,
    chi_square_tail,
    choice_sentences,
    cochran_q,
    holm,
    more_runs,
    paired_difference,
)

RNG = np.random.default_rng(3)


def test_cochrans_q_as_statsmodels() -> None:
    from statsmodels.stats.contingency_tables import cochrans_q

    for count in (3, 5, 12):
        right = RNG.random((30, count)) < np.linspace(0.5, 0.9, count)
        expected = cochrans_q(right.astype(int))
        q, p = cochran_q(right)
        assert q == pytest.approx(expected.statistic)
        assert p == pytest.approx(expected.pvalue)
    assert cochran_q(np.ones((5, 4), dtype=bool)) == (0.0, 1.0)


def test_chi_square_as_scipy() -> None:
    from scipy.stats import chi2

    for freedom in range(1, 15):
        for x in (0.01, 0.7, 3.0, 11.0, 40.0):
            assert chi_square_tail(x, freedom) == pytest.approx(chi2.sf(x, freedom), rel=1e-9)


def test_holm_as_statsmodels() -> None:
    from statsmodels.stats.multitest import multipletests

    for count in (1, 4, 11):
        ps = RNG.random(count) ** 3
        assert holm(ps.tolist()) == pytest.approx(multipletests(ps, method="holm")[1].tolist())


def test_newcombes_paired_interval() -> None:
    """Without correlation it is his interval of independent shares, which statsmodels has; and it covers when drawn."""
    from statsmodels.stats.proportion import confint_proportions_2indep

    # both x neither = only first x only second: the correlation is 0.
    low, high = paired_difference(20, 10, 10, 5)
    expected = confint_proportions_2indep(30, 45, 30, 45, method="newcomb", compare="diff")
    assert (low, high) == pytest.approx(expected, abs=1e-9)
    shares = (0.6, 0.2, 0.08, 0.12)
    drawn = RNG.multinomial(40, shares, 1500)
    covered = [low <= 0.12 <= high for low, high in (paired_difference(*row) for row in drawn.tolist())]
    assert 0.93 <= np.mean(covered) <= 0.99
    low, high = paired_difference(10, 0, 0, 0)
    assert low < 0 < high


def test_so_many_more_runs_decide_it_in_four_of_five_draws() -> None:
    from telemetry.replay.scoring.statistics import mcnemar

    more = more_runs(8, 3, 30)
    assert more is not None
    total = 30 + more
    drawn = RNG.multinomial(total, (0.5, 8 / 30, 3 / 30, 1 - 0.5 - 11 / 30), 400)
    decided = np.mean([mcnemar(*row).p < 0.05 for row in drawn.tolist()])
    assert 0.70 <= decided <= 0.90
    assert more_runs(4, 4, 30) is None


def test_what_is_said() -> None:
    rivals = (
        Rival("b", 4, 1, 0.1, (-0.05, 0.24), 0.37, 0.37, 60), Rival("c", 20, 0, 0.6, (0.4, 0.8), 1e-6, 2e-6, 1),
        Rival("d", 3, 3, 0.0, (-0.1, 0.1), 1.0, 1.0, None),
    )  # fmt: skip
    text = " ".join(choice_sentences(StrategyChoice("a", 30, 31.2, 1e-6, 27, 25, rivals)))
    assert "is flattered: 'a' reads 27 of 30" in text
    assert "about 60 more runs would decide it" in text
    assert "are few for 3 comparisons: 'd'" in text
    assert "'c'" not in text
