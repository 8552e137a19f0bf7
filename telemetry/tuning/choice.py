"""Choosing among several strategies honestly: the best of many is flattered, and a lead may be chance."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from telemetry.replay.scoring.results import Result, StrategySummary, comparable, ranked
from telemetry.replay.scoring.score import Outcome
from telemetry.replay.scoring.statistics import Interval, mcnemar, wilson

Bools = NDArray[np.bool_]
POWER = 0.8
LEVEL = 0.05


@dataclass(frozen=True, slots=True)
class Rival:
    """Another strategy beside the best one, on the runs that judge both. ``difference``: of the shares right (best minus
    rival), ``interval95``: Newcombe's; ``p``: McNemar's, ``p_holm``: corrected for all rivals; ``more_runs``: how many more
    runs like these would decide it with probability 0.8 if the difference is what it seems, None: none seems to be there.
    """

    name: str
    only_best: int
    only_rival: int
    difference: float
    interval95: Interval
    p: float
    p_holm: float
    more_runs: int | None

    @property
    def decided(self) -> bool:
        """Is the best one better than this rival, as far as these runs can tell?"""
        return self.p_holm < LEVEL


@dataclass(frozen=True, slots=True)
class StrategyChoice:
    """``q``, ``p``: Cochran's test that all are alike, None with fewer than three. ``runs``: those that judge all of them.

    ``left_out``: of ``runs`` those that the best of the *others* runs reads right: what to expect of the winner.
    """

    best: str
    runs: int
    q: float | None
    p: float | None
    right: int
    left_out: int
    rivals: tuple[Rival, ...]


def choose_strategy(results: Sequence[Result], summaries: Sequence[StrategySummary]) -> StrategyChoice | None:
    """The best of the comparable strategies, and how sure that is; None where fewer than two share a run."""
    names = [one.strategy for one in comparable(ranked(summaries))]
    if len(names) < 2:
        return None
    verdicts: dict[str, dict[str, bool]] = {name: {} for name in names}
    for result in results:
        if result.counts and result.strategy in verdicts:
            verdicts[result.strategy][result.run.recording] = result.outcome is Outcome.RIGHT
    shared = [run for run in verdicts[names[0]] if all(run in verdicts[name] for name in names)]
    if not shared:
        return None
    right = np.array([[verdicts[name][run] for name in names] for run in shared])
    q, p = cochran_q(right) if len(names) > 2 else (None, None)
    return StrategyChoice(names[0], len(shared), q, p, int(right[:, 0].sum()), _left_out(right), _rivals(verdicts, names))


def _rivals(verdicts: Mapping[str, Mapping[str, bool]], names: Sequence[str]) -> tuple[Rival, ...]:
    best = verdicts[names[0]]
    counts = []
    for name in names[1:]:
        other = verdicts[name]
        pairs = [(best[run], other[run]) for run in best if run in other]
        counts.append([pairs.count(kind) for kind in ((True, True), (True, False), (False, True), (False, False))])
    ps = [mcnemar(*count).p for count in counts]
    rivals = []
    for name, (both, first, second, neither), p, corrected in zip(names[1:], counts, ps, holm(ps), strict=True):
        total = both + first + second + neither
        rivals.append(Rival(
            name, first, second, (first - second) / total, paired_difference(both, first, second, neither), p, corrected,
            more_runs(first, second, total),
        ))  # fmt: skip
    return tuple(rivals)


def _left_out(right: Bools) -> int:
    """Each run judged by the strategy that is best on all others; of equals the one named first."""
    total = right.sum(axis=0)
    return int(sum(row[int(np.argmax(total - row))] for row in right.astype(np.int64)))


def cochran_q(right: Bools) -> tuple[float, float]:
    """Cochran's Q (Biometrika 37, 1950) of (runs, strategies), and its p from chi-square. 0 and 1 where none differs."""
    count = right.shape[1]
    columns, rows = right.sum(axis=0).astype(float), right.sum(axis=1).astype(float)
    below = count * rows.sum() - (rows**2).sum()
    if below <= 0:
        return 0.0, 1.0
    q = (count - 1) * (count * (columns**2).sum() - columns.sum() ** 2) / below
    return float(q), chi_square_tail(float(q), count - 1)


def chi_square_tail(x: float, freedom: int) -> float:
    """P(chi-square with so many degrees of freedom > x), by its finite sum for whole degrees."""
    half = x / 2.0
    if half <= 0.0:
        return 1.0
    if freedom % 2 == 0:
        return math.exp(-half) * math.fsum(math.exp(k * math.log(half) - math.lgamma(k + 1)) for k in range(freedom // 2))
    terms = (math.exp((k + 0.5) * math.log(half) - math.lgamma(k + 1.5) - half) for k in range((freedom - 1) // 2))
    return math.erfc(math.sqrt(half)) + math.fsum(terms)


def holm(ps: Sequence[float]) -> list[float]:
    """Holm's step-down correction (Scandinavian Journal of Statistics 6, 1979), in the order given."""
    order = sorted(range(len(ps)), key=lambda k: ps[k])
    out = [0.0] * len(ps)
    worst = 0.0
    for place, k in enumerate(order):
        worst = max(worst, min(1.0, (len(ps) - place) * ps[k]))
        out[k] = worst
    return out


def paired_difference(both: int, only_first: int, only_second: int, neither: int) -> Interval:
    """95 % interval of the difference of two shares on the same runs.

    Newcombe, Statistics in Medicine 17, 1998, p. 2635, method 10: from the two Wilson intervals and their correlation.
    """
    total = both + only_first + only_second + neither
    first, second = both + only_first, both + only_second
    one, two = first / total, second / total
    low1, high1 = wilson(first, total) or (0.0, 1.0)
    low2, high2 = wilson(second, total) or (0.0, 1.0)
    product = first * (total - first) * second * (total - second)
    cross = both * neither - only_first * only_second
    if product == 0:
        phi = 0.0
    else:
        corrected = max(cross - total / 2.0, 0.0) if cross > 0 else cross
        phi = corrected / math.sqrt(product)
    gap = one - two
    down = (one - low1) ** 2 - 2 * phi * (one - low1) * (high2 - two) + (high2 - two) ** 2
    up = (two - low2) ** 2 - 2 * phi * (two - low2) * (high1 - one) + (high1 - one) ** 2
    return gap - math.sqrt(max(0.0, down)), gap + math.sqrt(max(0.0, up))


def more_runs(only_first: int, only_second: int, total: int) -> int | None:
    """How many runs beyond ``total`` McNemar's test needs to decide with POWER, if shares stay as they are.

    Connor, Biometrics 43, 1987. None where the two are right as often. At least one more where it is not decided yet.
    """
    if only_first == only_second or total == 0:
        return None
    apart, gap = (only_first + only_second) / total, abs(only_first - only_second) / total
    z = NormalDist()
    needed = (
        z.inv_cdf(1 - LEVEL / 2) * math.sqrt(apart) + z.inv_cdf(POWER) * math.sqrt(max(0.0, apart - gap**2))
    ) ** 2 / gap**2
    return max(1, math.ceil(needed) - total)


def choice_sentences(choice: StrategyChoice) -> list[str]:
    """What a coach should know before the best one is believed."""
    said = []
    count = len(choice.rivals) + 1
    runs = f"{choice.runs} run{'s' * (choice.runs != 1)}"
    if choice.q is not None and choice.p is not None:
        alike = "they differ" if choice.p < LEVEL else "these runs do not show that they differ at all"
        said.append(f"{count} strategies on {runs}: {alike} (Cochran's Q = {choice.q:.1f}, {_p(choice.p)}).")
        if choice.left_out < choice.right:
            said.append(
                f"The best of {count} is flattered: '{choice.best}' reads {choice.right} of {choice.runs} right; chosen "
                f"without the run that it is judged on, the best reads {choice.left_out} of {choice.runs}."
            )
    tied = [rival for rival in choice.rivals if not rival.decided]
    for rival in tied[:1]:
        low, high = rival.interval95
        difference = f"{100 * rival.difference:+.0f} points (95 %: {100 * low:+.0f} to {100 * high:+.0f})"
        many = f", corrected for {count - 1} comparisons (Holm)" if count > 2 else ""
        more = (
            "they were right equally often" if rival.more_runs is None
            else f"about {rival.more_runs} more runs would decide it"
        )  # fmt: skip
        said.append(
            f"'{choice.best}' over '{rival.name}': {difference}, {_p(rival.p_holm)}{many}: not decided; {more}."
        )
    if len(tied) > 1:
        names = ", ".join(f"'{rival.name}'" for rival in tied[1:])
        said.append(f"Not decided either, for {runs} are few for {count - 1} comparisons: {names}.")
    return said


def _p(p: float) -> str:
    return "p < 0.001" if p < 0.001 else f"p = {p:.2g}"
