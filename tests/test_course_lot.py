"""Layouts drawn by lot fit the course, and come to practise every place of a colour."""

from __future__ import annotations

import random
from collections import Counter

import pytest

from telemetry.course import parse_course
from telemetry.course.lot import draw_layout, evenness
from telemetry.course.truth import check_truth
from telemetry.sources.synthetic.run import COURSES, built_in_course

COUNTED = """
[course]
name = "Counted"
[[group]]
name = "posts"
counts = {rust = 2, leaf = 1}
[[slot]]
name = "post 1"
group = "posts"
[[slot]]
name = "post 2"
group = "posts"
[[slot]]
name = "post 3"
group = "posts"
[[slot]]
name = "free"
colours = ["sky", "white"]
"""


@pytest.mark.parametrize("course", [*map(built_in_course, COURSES), parse_course(COUNTED)], ids=[*COURSES, "counted"])
def test_every_layout_fits_the_course(course) -> None:  # type: ignore[no-untyped-def]
    lot = random.Random(1)
    for _ in range(40):
        check_truth(draw_layout(course, [], lot), course)


def test_places_are_practised_evenly() -> None:
    course = built_in_course()
    lot = random.Random(2)
    practised: list[tuple[str, ...]] = []
    for _ in range(25):
        practised.append(draw_layout(course, practised, lot))
    done, of = evenness(course, practised)
    assert done == of
    crates = Counter((slot, truth[slot]) for truth in practised for slot in range(3, 8))
    assert max(crates.values()) - min(crates.values()) <= 3
    plain = random.Random(2)
    drawn = [draw_layout(course, [], plain) for _ in range(25)]
    by_chance = Counter((slot, truth[slot]) for truth in drawn for slot in range(3, 8))
    assert max(crates.values()) < max(by_chance.values()), "evener than chance alone"


def test_the_same_lot_gives_the_same_layout() -> None:
    course = built_in_course()
    assert draw_layout(course, [], random.Random(5)) == draw_layout(course, [], random.Random(5))
