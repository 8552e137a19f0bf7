"""What Decide recommends: the strategy that read most runs correctly, held against the one in use."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from gui.model.answer import listed
from gui.words import runs, tr
from telemetry.replay.scoring.results import StrategySummary


@dataclass(frozen=True, slots=True)
class Recommendation:
    """``strategy``: the one to use, empty where nothing is recommended. ``kind``: good, warn or bad.

    ``when``: how late the readings are there, empty where it is not known: who must act during the run decides by it, too.
    """

    headline: str
    kind: str
    strategy: str = ""
    when: str = ""


def standing(one: StrategySummary) -> tuple[int, int, int]:
    """What makes one strategy better than another, as far as the runs tell."""
    return one.correct, one.runs, one.errors.total


def recommend(ranked: Sequence[StrategySummary], in_use: str) -> Recommendation:
    """``ranked``: the best first, without the robot and without what is only tried out."""
    judged = [one for one in ranked if one.runs]
    if not judged:
        return Recommendation(tr("No run judges a strategy yet."), "warn")
    best = judged[0]
    used = next((one for one in judged if one.strategy == in_use), None)
    equal = [one.strategy for one in judged if standing(one) == standing(best)]
    best_words = tr("{n} of {runs}", n=best.correct, runs=runs(best.runs))
    if used is None:
        words = tr("Use {name}: {best} correct.", name=best.strategy, best=best_words)
        return Recommendation(
            f"{words} {tr('{name}, in use now, does not apply.', name=in_use)}", "bad", best.strategy, _when([best])
        )
    if in_use in equal:
        if len(equal) == 1:
            words = tr("Keep {name}: {best} correct, more than any other.", name=in_use, best=best_words)
        else:
            others = listed([name for name in equal if name != in_use], 2)
            words = tr("Keep {name}: {best} correct, as do {others}.", name=in_use, best=best_words,
                       others=others)  # fmt: skip
        return Recommendation(words, "good" if best.correct else "bad", when=_when([used]))
    words = tr("Use {name}: {best} correct. {used}, in use now: {n}.", name=best.strategy, best=best_words, used=in_use,
               n=used.correct)  # fmt: skip
    return Recommendation(words, "bad" if used.correct < used.runs / 2 else "warn", best.strategy, _when([best, used]))


def _when(of: Sequence[StrategySummary]) -> str:
    """The time from the first sample to the last reading, the median of the runs, of each of these."""
    known = [tr("{name} {s:.1f} s", name=one.strategy, s=one.decided_ms / 1000) for one in of if one.decided_ms is not None]
    return tr("From the start to the last reading: {times} (median).", times=", ".join(known)) if known else ""
