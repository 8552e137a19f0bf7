"""How sure a count of right runs makes us, and whether two strategies really differ."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from statistics import NormalDist

Interval = tuple[float, float]


def wilson(right: int, runs: int, level: float = 0.95) -> Interval | None:
    """The Wilson score interval of a success rate, two-sided at ``level``; None where there is no run.

    Method: NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.4.1.
    """
    _counted(right, runs)
    if runs == 0:
        return None
    z = NormalDist().inv_cdf(0.5 + level / 2)
    rate = right / runs
    middle = rate + z * z / (2 * runs)
    half = z * math.sqrt(rate * (1 - rate) / runs + z * z / (4 * runs * runs))
    scale = 1 + z * z / runs
    # At none or all right one end is exactly 0 or 1; rounding must not put it beside.
    low = 0.0 if right == 0 else max(0.0, (middle - half) / scale)
    high = 1.0 if right == runs else min(1.0, (middle + half) / scale)
    return low, high


def exact_interval(right: int, runs: int, level: float = 0.95) -> Interval | None:
    """The exact (Clopper-Pearson) interval of a success rate, two-sided at ``level``; None where there is no run.

    The ends are found by halving on the binomial tails (NIST/SEMATECH e-Handbook, 7.2.4.1), to 1e-12.
    """
    _counted(right, runs)
    if runs == 0:
        return None
    tail = (1 - level) / 2
    low = 0.0 if right == 0 else _halve(lambda p: 1 - at_most(right - 1, runs, p) < tail)
    high = 1.0 if right == runs else _halve(lambda p: at_most(right, runs, p) > tail)
    return low, high


def failures_at_most(runs: int) -> float | None:
    """Where nothing failed in ``runs`` runs: the 95 % upper bound of the failure rate, near 3/n; None for no run.

    'Rule of three': Hanley and Lippman-Hand, JAMA 249, 1983; here without the approximation, 1 - 0.05 ** (1/n).
    """
    return 1 - 0.05 ** (1 / runs) if runs > 0 else None


@dataclass(frozen=True, slots=True)
class McNemar:
    """Two strategies on the same runs. ``only_first``: runs that only the first read right.

    ``corrected`` and ``plain`` are chi-square with and without the continuity correction; ``p`` is exact (binomial) up to
    25 runs on which they disagree and of ``corrected`` beyond.
    """

    both: int
    only_first: int
    only_second: int
    neither: int
    corrected: float
    plain: float
    p: float
    exact: bool


EXACT_UP_TO = 25


def mcnemar(both: int, only_first: int, only_second: int, neither: int) -> McNemar:
    """McNemar's test (Psychometrika 12, 1947; the correction is Edwards's, Psychometrika 13, 1948)."""
    apart = only_first + only_second
    gap = abs(only_first - only_second)
    plain = gap * gap / apart if apart else 0.0
    # Not floored at 0 for equal counts: the published formula, and statsmodels, keep (0 - 1)^2 / n.
    corrected = (gap - 1) ** 2 / apart if apart else 0.0
    exact = apart <= EXACT_UP_TO
    if exact:
        p = min(1.0, 2 * at_most(min(only_first, only_second), apart, 0.5)) if apart else 1.0
    else:
        p = math.erfc(math.sqrt(corrected / 2))
    return McNemar(both, only_first, only_second, neither, corrected, plain, p, exact)


def in_words(test: McNemar, first: str, second: str) -> str:
    """What the test says about the two strategies, in one or two sentences."""
    apart = test.only_first + test.only_second
    if apart == 0:
        return f"On these runs '{first}' and '{second}' are right and wrong on exactly the same ones."
    if test.only_first == test.only_second:
        each = _runs(test.only_first)
        return f"'{first}' and '{second}' each read {each} right that the other did not: no difference shows."
    better, worse = (first, second) if test.only_first > test.only_second else (second, first)
    more, fewer = max(test.only_first, test.only_second), min(test.only_first, test.only_second)
    against = "none the other way" if fewer == 0 else f"{fewer} the other way round"
    counts = f"'{better}' read {_runs(more)} right that '{worse}' did not, {against}"
    if test.p < 0.05:
        return f"{counts}: a difference this large is hardly chance ({_p(test.p)})."
    return f"{counts}: that may well be chance ({_p(test.p)}). More runs would tell."


def _p(p: float) -> str:
    return "p < 0.001" if p < 0.001 else f"p = {p:.2g}"


def _runs(count: int) -> str:
    return f"{count} run" if count == 1 else f"{count} runs"


def _counted(right: int, runs: int) -> None:
    if not 0 <= right <= runs:
        raise ValueError(f"{right} of {runs} is not a count")


def at_most(k: int, n: int, p: float) -> float:
    """P(X <= k) of a binomial with n trials."""
    if p <= 0:
        return 1.0
    if p >= 1:
        return 1.0 if k >= n else 0.0
    logs = (
        math.lgamma(n + 1) - math.lgamma(i + 1) - math.lgamma(n - i + 1) + i * math.log(p) + (n - i) * math.log1p(-p)
        for i in range(k + 1)
    )
    return min(1.0, math.fsum(math.exp(one) for one in logs))


def _halve(below: Callable[[float], bool]) -> float:
    """The p in 0..1 up to which ``below`` holds."""
    low, high = 0.0, 1.0
    for _ in range(60):
        middle = (low + high) / 2
        if below(middle):
            low = middle
        else:
            high = middle
    return (low + high) / 2


def runs_needed(rate: float, level: float = 0.95) -> int:
    """How many runs without one failure show, with certainty ``level``, that at most ``rate`` of all runs fail.

    The rule of three turned round, without its approximation: 5 % at 95 % needs 59, where 3/n says 60.
    """
    if not 0.0 < rate < 1.0 or not 0.0 < level < 1.0:
        raise ValueError(f"a rate of {rate} at {level} cannot be shown by counting")
    return math.ceil(math.log(1.0 - level) / math.log(1.0 - rate))
