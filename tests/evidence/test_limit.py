"""The limit decoder against exhaustive search, and what it must never do."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from telemetry.course import parse_course
from telemetry.replay.limit.assign import NEVER
from telemetry.replay.limit.decoder import LegTable, Rules, Search, colours_of, loosened
from telemetry.replay.limit.run import limit_of

from .other_robot import LEVELS
from .runs import bench

SMALL = """
[course]
name = "small"
[[leg]]
name = "one"
[[leg]]
name = "two"
starts = "note:turn"
[[slot]]
name = "a"
leg = "one"
at_cm = 8.0
group = "g"
[[slot]]
name = "b"
leg = "one"
at_cm = 14.0
colours = ["rust", "leaf"]
[[slot]]
name = "c"
leg = "two"
at_cm = 9.0
group = "g"
[[slot]]
name = "d"
leg = "two"
group = "g"
at_cm = 15.0
empty_ok = true
[[group]]
name = "g"
distinct = ["rust", "leaf", "sky"]
"""


def _search(seed: int, thetas: int = 3, centres: int = 40) -> Search:
    rng = np.random.default_rng(seed)
    course = parse_course(SMALL)
    names = ("none", *course.colours)
    legs = []
    for slots, at in (((0, 1), (8.0, 14.0)), ((2, 3), (9.0, 15.0))):
        scores = tuple(loosened(rng.normal(0.0, 6.0, (thetas, centres, 4))) for _ in slots)
        legs.append(LegTable(slots, scores, tuple(place - 4.0 for place in at), at))
    return Search(Rules.of(course, names, 4), legs, rng.uniform(0.0, 3.0, thetas))


def _everything(search: Search) -> float:
    """Every combination of nuisances, distances and colours, one by one."""
    best = -np.inf
    rules = search.rules
    singles = [[k for k in range(4) if rules.allowed[slot, k] > NEVER / 2] for slot in range(4)]
    answers = []
    for answer in product(*singles):
        standing = [k for i, k in enumerate(answer) if rules.group[i] == 0 and k]
        if len(set(standing)) == len(standing):
            answers.append(answer)
    for theta in range(len(search.costs)):
        parts = []
        for number, leg in enumerate(search.legs):
            part = {}
            for answer in answers:
                key = tuple(answer[slot] for slot in leg.slots)
                if key not in part:
                    score = -search.prices[number].copy()
                    for slot, scores, places in zip(leg.slots, leg.scores, search.places[number], strict=True):
                        score += scores[theta, places, answer[slot]]
                    part[key] = float(score.max())
            parts.append(part)
        for answer in answers:
            keys = (tuple(answer[slot] for slot in leg.slots) for leg in search.legs)
            total = sum(part[key] for part, key in zip(parts, keys, strict=True)) - float(search.costs[theta])
            best = max(best, total)
    return best


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_it_equals_exhaustive_search_on_small_courses(seed: int) -> None:
    search = _search(seed)
    found = search.best()
    assert found.total == pytest.approx(_everything(search))
    # What it says it found is worth what it says, and no other answer is worth more.
    assert search.score_of(found.colours) == pytest.approx(found.total)


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(0, 2**32 - 1))
def test_no_answer_is_worth_more_than_the_best(seed: int, pick: int) -> None:
    search = _search(seed)
    rng = np.random.default_rng(pick)
    group = rng.permutation([1, 2, 3])
    answer = (int(group[0]), int(rng.integers(1, 3)), int(group[1]), int(group[2]))
    names = ("none", "rust", "leaf", "sky")
    answer = (answer[0], names.index("rust" if answer[1] == 1 else "leaf"), answer[2], answer[3])
    assert search.score_of(answer) <= search.best().total + 1e-9


def test_a_slot_may_lie_a_little_off_at_a_price() -> None:
    scores = np.zeros((1, 30, 1))
    scores[0, 15, 0] = 20.0
    loose = loosened(scores)[0, :, 0]
    assert loose[15] == 20.0
    assert 0.0 < loose[17] < loose[16] < 20.0
    assert loose[25] == 0.0


@pytest.mark.parametrize("level", ["venue", "slipping"])
@pytest.mark.parametrize("mode", ["both", "codes"])
def test_it_reads_runs_whose_distance_is_wrong(level: str, mode: str) -> None:
    made, palette = bench(11, "earth", "row")
    drive = made.drive(LEVELS[level], 5)
    if mode == "codes":
        for name in ("red", "green", "blue", "refl"):
            del drive.table.columns[name]
    limit = limit_of(drive.table, drive.course, palette)
    assert limit is not None
    assert limit.colours == drive.truth
    assert limit.found.total >= limit.score_of(drive.truth)
    assert all(seen.samples > 0 for seen, slot in zip(limit.slots, drive.course.slots, strict=True) if not slot.unseen)


def test_a_run_without_samples_has_no_limit() -> None:
    made, palette = bench(11, "earth", "row")
    table = made.drive(LEVELS["practice"], 1).table
    for name in ("red", "green", "blue", "refl"):
        table.columns[name] = np.full(table.rows, np.nan)
    table.columns["colour"] = np.full(table.rows, -1, dtype=np.int16)
    assert limit_of(table, made.course, palette) is None


def test_a_colour_the_names_do_not_hold_is_left_open() -> None:
    assert colours_of(("rust", "empty", "lime"), ("none", "rust")) == (1, 0, -1)
