"""What makes a margin count less: misfit, another way of reading, improbable places, codes that contradict each other."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from telemetry.reading.portable.evidence.doubt import ROW, Doubt
from telemetry.reading.portable.evidence.hypotheses import Hypotheses

RED, GREEN = 1, 2
PALETTE = {RED: (700, 200, 100), GREEN: (150, 600, 150)}
FIELD = (100, 100, 100)


def doubt(
    shown: list[tuple[int, int, int]],
    *,
    raw: int = 1,
    odd: int = 0,
    calm: int = 64,
    weight: int = 32,
    voice: int = 0,
    field: tuple[int, int, int] | None = None,
) -> Any:
    """Of one slot that may be red or green, with these departures from the field."""
    rows = [0] * ROW
    for j, departure in enumerate(shown):
        rows[j * 6 : j * 6 + 6] = [*departure, 100, 256, weight]
    marks = [0, 0, 0] + [have - none for k in (RED, GREEN) for have, none in zip(PALETTE[k], FIELD, strict=True)]
    told = [0] * 3
    assignment = SimpleNamespace(barred=[1, 0, 0], fit=[0] * 3)
    misfit = SimpleNamespace(seen=[1, len(shown), 0, 0], shown=rows, keen=[256] * 3, white=[591, 591, 591])
    hypotheses: Any = Hypotheses(  # type: ignore[no-untyped-call]
        assignment, SimpleNamespace(reset=lambda: None), told, [*(field or FIELD)], marks, [0] * 9, [*FIELD], [0], raw,
        [1000], [0], [0, 0, 0, 0],
    )  # fmt: skip
    shares = [one * 1024 // sum(look) for look in (FIELD, PALETTE[RED], PALETTE[GREEN]) for one in look]
    made: Any = Doubt(hypotheses, misfit, [odd], calm, shares, voice)  # type: ignore[no-untyped-call]
    if raw:
        made.ask()
    return made


AS_RED = [(600, 100, 0)] * 9
AS_GREEN = [(50, 500, 50)] * 9


def left(made: Any, fit: int = 0, margin: int = 200) -> int:
    """What is left of red's margin."""
    made.weigh([0, fit, -900], 0, [RED])
    out: int = made.left(0, RED, margin, fit)
    return out


def test_what_nothing_speaks_against_counts_whole() -> None:
    assert left(doubt(AS_RED)) == 200  # nine cells that weigh half a sample each: the usual weight


def test_cells_that_fit_their_own_colour_badly_halve_a_margin() -> None:
    # 16/16 nat of misfit a sample of 4.5: as much again as nothing
    assert left(doubt(AS_RED), fit=-72) == 100


def test_a_slot_whose_shares_are_those_of_another_colour_counts_half() -> None:
    assert left(doubt(AS_GREEN)) == 100
    assert left(doubt(AS_RED[:6] + AS_GREEN[:3])) == 200 * 64 // (64 + 64 // 3)


def test_votes_speak_for_their_colour_as_loudly_as_they_may() -> None:
    assert doubt(AS_RED).hypotheses.told == [0, 0, 0]
    assert doubt(AS_RED, voice=24).hypotheses.told == [0, 9 * 24 * 32 // 64, 0]
    assert doubt(AS_RED[:6] + AS_GREEN[:3], voice=24).hypotheses.told == [0, 6 * 12, 3 * 12]


def test_the_fields_tint_is_taken_out_of_the_votes_where_cells_are_nearer_then() -> None:
    """In light that is redder by half and bluer by half, green looks like red; its votes count a quarter."""
    tint = (1.5, 0.8, 1.5)
    field = tuple(round(one * by) for one, by in zip(FIELD, tint, strict=True))
    greenish = [tuple(round((have - none) * by) for have, none, by in zip(PALETTE[GREEN], FIELD, tint, strict=True))] * 8
    assert doubt(greenish, voice=32, field=field).hypotheses.told == [0, 0, 8 * 4]


def test_improbable_places_and_poses_that_waver_count_against_every_slot() -> None:
    assert left(doubt(AS_RED, odd=64)) == 100
    assert left(doubt(AS_RED, calm=96)) == 200 * 64 // 96


def test_more_cells_of_a_surface_do_not_make_it_surer() -> None:
    assert left(doubt(AS_RED, weight=64), margin=400) == left(doubt(AS_RED), margin=200)


def test_codes_that_fit_both_colours_badly_count_half() -> None:
    assert left(doubt([], raw=0), fit=-200) == 100
    assert left(doubt([], raw=0), fit=0) == 200


@pytest.mark.parametrize("margin", [1, 3000000])
def test_a_lead_stays_a_lead_and_within_whole_numbers(margin: int) -> None:
    assert 1 <= left(doubt(AS_GREEN, odd=600), fit=-500000, margin=margin) <= 6000


def test_without_a_lead_nothing_is_left() -> None:
    assert left(doubt(AS_RED), margin=0) == 0
