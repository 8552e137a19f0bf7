"""Legs and places: how a robot's program makes a leg begin, and where the sensor is then."""

from __future__ import annotations

import pytest

from telemetry.course import Course
from telemetry.reading.chain import Chain
from telemetry.sample import MISSING

from .made import Made, course, plan_of, wholes_of

SLOT = '[[slot]]\nname = "s"\ncolours = ["rust"]\n'


def _legs(starts: str, more: str = "") -> Course:
    return course(f'{more}[[leg]]\nname = "lane"\n[[leg]]\nname = "yard"\nstarts = "{starts}"\n{SLOT}leg = "yard"\n')


def _walk(made: Made, on: Course) -> list[tuple[int, int, int]]:
    plan = plan_of(made, on, "code")
    chain: Chain = plan.chains[0]
    _, _, places = chain.trace(wholes_of(made, plan)[0], plan.note_rows(made.notes), 0, len(made.rows))
    return places


def test_distance_counts_from_the_first_one_seen() -> None:
    made = Made(mm=153.2).none(5)
    assert [pos for _, pos, _ in _walk(made, course(SLOT))] == [0, 10, 20, 30, 40]


def test_a_note_begins_a_leg_and_its_distance() -> None:
    made = Made().none(5).note("gate open").none(3)
    assert [(leg, pos) for leg, pos, _ in _walk(made, _legs("note:gate open"))][4:] == [(0, 40), (1, 0), (1, 10), (1, 20)]


def test_another_note_does_not() -> None:
    made = Made().none(5).note("gate shut").none(3)
    assert {leg for leg, _, _ in _walk(made, _legs("note:gate open"))} == {0}


@pytest.mark.parametrize("turns", [0, 360, -720])
def test_a_heading_begins_a_leg_however_often_it_went_round(turns: int) -> None:
    made = Made().none(3)
    for heading in (30, 60, 75, 92):
        made.heading = heading + turns
        made.none(1)
    on = _legs("heading:90")
    assert [leg for leg, _, _ in _walk(made, on)] == [0, 0, 0, 0, 0, 1, 1]


def test_distance_set_back_begins_a_leg() -> None:
    made = Made().none(60)
    made.mm = 0.0
    made.none(3)
    assert [(leg, pos) for leg, pos, _ in _walk(made, _legs("reset"))][59:] == [(0, 590), (1, 0), (1, 10), (1, 20)]


def test_reversing_begins_a_leg_where_the_robot_turned() -> None:
    made = Made().none(50)
    made.step_mm = -1.0
    made.none(20)
    places = _walk(made, _legs("reverse"))
    # Half a centimetre tells a turn from a wobble.
    assert [leg for leg, _, _ in places].index(1) == 55
    assert places[-1][:2] == (1, 190)


def test_a_wobble_is_no_reversing() -> None:
    made = Made().none(50)
    for step in (-1.0, -1.0, 1.0, 1.0, -1.0):
        made.none(1, step_mm=step)
    assert {leg for leg, _, _ in _walk(made.none(20), _legs("reverse"))} == {0}


def test_the_sensor_in_front_leads_forwards_and_trails_backwards() -> None:
    sensor = '[[sensor]]\nname = "side"\nahead_cm = 4.5\n'
    made = Made().none(50)
    made.step_mm = -1.0
    made.none(30)
    on = course(f'{sensor}[[leg]]\nname = "lane"\n[[leg]]\nname = "yard"\nstarts = "reverse"\n{SLOT}leg = "yard"\n')
    places = _walk(made, on)
    assert places[10][:2] == (0, 100 + 450)
    assert places[-1][:2] == (1, 290 - 450)


def test_speed_is_worked_out_from_distance_where_none_is_sent() -> None:
    made = Made(step_mm=2.0).none(30)
    plan = plan_of(made, course(SLOT), "code")
    plan.run(wholes_of(made, plan), {}, 0, 30)
    assert plan.chains[0].moment.v == 2000  # 2 mm in 10 ms are 200 mm/s


def test_a_speed_that_is_sent_is_believed() -> None:
    made = Made(step_mm=2.0).none(30, speed=7.0)
    plan = plan_of(made, course(SLOT), "code")
    plan.run(wholes_of(made, plan), {}, 0, 30)
    assert plan.chains[0].moment.v == 700


def test_without_distance_there_is_no_place() -> None:
    made = Made().none(5)
    for row in made.rows:
        del row["dist"]
    assert [pos for _, pos, _ in _walk(made, course(SLOT))] == [MISSING] * 5


def test_a_wobble_turns_no_way_round_and_a_leg_that_runs_down_does() -> None:
    back = Made(mm=100.0)
    for step in (-4.0, -0.9, -0.3, -1.0):
        back.none(1, step_mm=step)
    assert [pos for _, pos, _ in _walk(back.none(1), course(SLOT))] == [0, -40, -49, 52, 62]


def test_distance_that_is_cut_by_half_was_not_set_back() -> None:
    made = Made().none(60)
    made.mm = 30.0
    assert {leg for leg, _, _ in _walk(made.none(3), _legs("reset"))} == {0}
