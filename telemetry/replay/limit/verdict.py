"""Was it the sensor or the logic? Judged by how probable the truth is given the recording, not by a lucky hit."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import Enum

from telemetry.course import Course, Truth
from telemetry.palette import Palette
from telemetry.replay.limit.run import Limit, limit_of
from telemetry.sample import Table


class Kind(Enum):
    """What a misread run comes from."""

    LOGIC = "the information is there: logic"
    SENSOR = "it is not there: sensor, light or speed"
    STALE = "the palette is stale"
    TRUTH = "is the truth right?"
    UNCLEAR = "unclear"


TEMPER = 0.35
"""Samples of one run are not independent, so log-likelihoods count this part of their face value (common practice)."""
PROBABLE, IMPROBABLE = 0.9, 0.02
FEW_SAMPLES = 2.0
FAINT = 5.0
MISFIT = 2.1
"""Deviations by which the colours found may lie beside the palette's before the palette is doubted."""
SATURATED = 0.3
LOST = 0.05


@dataclass(frozen=True, slots=True)
class Verdict:
    """``why``: one or two sentences. ``truth_probability``: of what is said to have stood there, given the recording; None
    where it was not worked out. ``limit``: what the limit decoder reads. ``figures``: name -> value, for JSON.
    """

    kind: Kind
    why: str
    truth_probability: float | None = None
    limit: tuple[str | None, ...] = ()
    figures: dict[str, float] = field(default_factory=dict)


def read_by(names: Sequence[str]) -> Verdict:
    """The verdict where a strategy that knows its own certainty read the run right and was sure of it."""
    return Verdict(Kind.LOGIC, f"{_listed(names)} {'reads' if len(names) == 1 else 'read'} this recording right")


def verdict(
    table: Table, course: Course, palette: Palette, truth: Truth, *, right: Sequence[str] = (), setting: str = ""
) -> Verdict:
    """The verdict on a run that some strategy misread. ``right``: the strategies that read it right, ``setting``: a setting
    that would (empty: none known).
    """
    limit = limit_of(table, course, palette)
    if limit is None:
        return Verdict(Kind.SENSOR, "no sample of this recording says anything about any slot", 0.0)
    behind = max(limit.found.total - limit.score_of(truth), 0.0)
    chance = truth_chance(limit, truth, behind)
    passed = [i for i, slot in enumerate(course.slots) if not slot.unseen]
    misfit = math.sqrt(sum(limit.slots[i].misfit ** 2 for i in passed) / max(len(passed), 1))
    figures = {
        "truth_behind_nats": round(behind, 1),
        "least_margin_nats": round(min((limit.margin[i] for i in passed), default=0.0), 1),
        "misfit_deviations": round(misfit, 2),
        "fewest_samples_over_a_marker": min((limit.slots[i].samples for i in passed), default=0.0),
        "least_contrast_deviations": round(min((limit.slots[i].contrast for i in passed), default=0.0), 1),
    }
    read = bool(right or setting)
    kind, why = _Case(limit, course, truth, chance, misfit, _lost(table), read).judged()
    if kind is Kind.LOGIC:
        if right:
            why = f"{_listed(right)} {'reads' if len(right) == 1 else 'read'} it right; {why}"
        elif setting:
            why = f"{setting} reads it right; {why}"
        else:
            why = f"none of the compared strategies reads it, but the limit decoder does; {why}"
    return Verdict(kind, why, round(chance, 4), limit.colours, figures)


def truth_chance(limit: Limit, truth: Truth, behind: float) -> float:
    """P(truth | recording) among the truth, the best answer and the best answers with another colour in one slot."""
    rivals = [] if limit.colours == truth else [0.0]
    rivals += [gap for gap in limit.margin if gap > 0.0]
    if limit.colours == truth and any(gap == 0.0 for gap in limit.margin):
        rivals.append(0.0)
    own = math.exp(-TEMPER * behind)
    return own / (own + sum(math.exp(-TEMPER * gap) for gap in rivals))


@dataclass(frozen=True, slots=True)
class _Case:
    """What the verdict rests on. ``read``: some strategy or setting reads the run right."""

    limit: Limit
    course: Course
    truth: Truth
    chance: float
    misfit: float
    lost: float
    read: bool

    def judged(self) -> tuple[Kind, str]:
        limit, truth = self.limit, self.truth
        said = f"what stood there has a probability of {self.chance:.0%} given the recording"
        poor = f"the colours seen lie {self.misfit:.1f} deviations beside the palette's on the average"
        stale = limit.raw and self.misfit > MISFIT
        if limit.colours == truth and self.chance >= PROBABLE:
            if stale and not self.read:
                return Kind.STALE, f"{poor}, so only the limit decoder still reads it; {said}"
            return Kind.LOGIC, f"{said}; but {poor}: re-check it" if stale else said
        other = [i for i, (a, b) in enumerate(zip(limit.colours, truth, strict=True)) if a != b]
        weak = other or [i for i, gap in enumerate(limit.margin) if gap < 8.0 and not self.course.slots[i].unseen]
        lacking = self._lacking(weak)
        if stale and (self.chance <= IMPROBABLE or not lacking):
            return Kind.STALE, f"{poor}; {said}"
        if self.chance <= IMPROBABLE and not lacking:
            names = ", ".join(f"{self.course.slots[i].name} {limit.colours[i]} (not {truth[i]})" for i in other)
            fit = f"and fits the palette within {self.misfit:.1f} deviations" if limit.raw else "by the sensor's codes"
            return Kind.TRUTH, f"all evidence says {names}, {fit}; {said}"
        if lacking:
            return Kind.SENSOR, f"{lacking}; {said}"
        return Kind.UNCLEAR, said

    def _lacking(self, slots: Sequence[int]) -> str:
        """What is missing over the slots in question, in words; empty where nothing is."""
        parts = []
        for i in slots:
            if self.course.slots[i].unseen:
                continue
            seen, name = self.limit.slots[i], self.course.slots[i].name
            if seen.samples < FEW_SAMPLES:
                parts.append(f"only {seen.samples:.0f} sample{'s' * (seen.samples != 1)} over {name}")
            elif self.limit.raw and seen.contrast < FAINT:
                parts.append(f"{name} departs from the field by only {seen.contrast:.1f} deviations of one sample")
            elif seen.saturated > SATURATED:
                parts.append(f"{seen.saturated:.0%} of the samples over {name} are at full scale")
        if parts and self.lost > LOST:
            parts.append(f"{self.lost:.0%} of the lines were lost")
        return ", ".join(parts[:4])


def _lost(table: Table) -> float:
    """Share of lines that never came, by their running numbers."""
    return table.lost / (table.lost + table.rows) if table.rows else 0.0


def _listed(names: Sequence[str]) -> str:
    quoted = [f"'{name}'" for name in names]
    return quoted[0] if len(quoted) == 1 else f"{', '.join(quoted[:-1])} and {quoted[-1]}"
