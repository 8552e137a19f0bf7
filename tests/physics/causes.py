"""Verdicts against what was really done to a run: the truth mistyped, the palette of another light or height, or none."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from functools import lru_cache

import numpy as np

from telemetry.reading.strategies import STRATEGIES
from telemetry.replay.case import Ask
from telemetry.replay.case import Case as Judged
from telemetry.replay.header import PlanShelf
from telemetry.replay.judge import judge
from telemetry.replay.verdict_kind import CauseKind

from .cases import Case, robot
from .reading import mistaken

COMPARED = ("first-come", "evidence")
"""The verdict asks its own panel of readers too; the first misreads nearly every run, so that nearly every run gets one."""
OF_RUN = ("built-in", "other")
"""Generators whose light is drawn anew for every run: whether a palette is of another light is not known of them."""


@lru_cache(maxsize=400)
def coded(generator: str, setup: int, level: str) -> dict[str, str]:
    """Colour -> the code that the sensor mostly gives over it."""
    made = robot(generator, setup, level)
    out = {}
    for colour in ("none", *made.course.colours):
        table = made.still(colour)
        codes = np.asarray(table.columns["colour"], dtype=np.int64)
        out[colour] = table.colours[int(np.bincount(codes[codes >= 0]).argmax())]
    return out


def done_to(case: Case, stream: str, palette: str, *, swapped: bool) -> frozenset[CauseKind]:
    """Which kinds of verdict are true of a run."""
    true = set()
    if swapped:
        true.add(CauseKind.TRUTH)
    if palette == "none":
        true.add(CauseKind.NO_PALETTE)
    if palette == "other light" or case.level in {"far", "nasty"} or case.generator in OF_RUN:
        true.add(CauseKind.STALE)
    if stream == "codes" or (stream == "both" and palette == "none"):
        said = coded(case.generator, case.setup, case.level)
        for colour in case.truth:
            alike = [one for one in said if said[one] == said.get(colour)]
            if len(alike) > 1 or said.get(colour) != colour:
                true.add(CauseKind.NO_CODE)
    return frozenset(true)


def verdicts(
    cases: Iterable[Case], stream: str, palette: str, *, swap: bool, shelf: PlanShelf | None = None
) -> Counter[tuple[CauseKind | None, bool]]:
    """(kind, whether it was true) -> runs; kind None: no strategy misread the run. ``swap``: every truth is mistyped."""
    out: Counter[tuple[CauseKind | None, bool]] = Counter()
    shelf = shelf or PlanShelf()
    strategies = {name: STRATEGIES[name] for name in COMPARED}
    for case in cases:
        truth = case.truth
        if swap:
            truth = mistaken(truth, case.course, np.random.default_rng([case.setup, case.seed, 5]))
            if truth == case.truth:
                continue
        one = Judged("run", case.table, case.course, truth, case.palette, simulated=True)
        results, _ = judge(one, strategies, Ask(verdict=True), shelf=shelf)
        found = next((result.verdict for result in results if result.verdict is not None), None)
        if found is None:
            out[None, True] += 1
            continue
        true = done_to(case, stream, palette, swapped=swap)
        out[found.kind, found.kind in true if found.kind is not CauseKind.LOGIC else not swap] += 1
    return out
