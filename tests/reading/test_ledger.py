"""What the course says about slots that belong together, as the ledger and the stages beside it keep it."""

from __future__ import annotations

import pytest

from telemetry.reading.chain import ASSUMED, INFERRED, Decision, decode

from .made import Made, course, events_of, in_order, plan_of, read, slots, wholes_of


def _seen(*colours: str) -> Made:
    made = Made()
    for colour in colours:
        made.none(3).see(colour, 3)
    return made.none(3)


def test_counts_are_kept() -> None:
    on = in_order(3, "counts = {rust = 2, leaf = 1}")
    # The third rust is no rust any more, and the leaf is still open.
    assert read(_seen("rust", "rust", "rust", "leaf"), course(on), "code", "once", "open") == ["rust", "rust", "leaf"]


def test_counts_let_two_slots_follow_at_once() -> None:
    on = in_order(3, "counts = {rust = 2, leaf = 1}")
    assert read(_seen("leaf"), course(on), "code", "once", "eliminate") == ["leaf", "rust", "rust"]


def test_nothing_follows_where_there_are_more_colours_than_slots() -> None:
    assert read(_seen("rust"), course(in_order(2)), "code", "once", "eliminate") == ["rust", "-"]


def test_a_slot_of_any_colour_keeps_apart_from_a_group_that_shares_its_colours() -> None:
    free = '[[slot]]\nname = "free"\ncolours = ["rust", "leaf", "sky"]\n'
    on = course(free + in_order(3, 'one_of_each = ["rust", "leaf", "sky"]'))
    # The free slot's rust takes none from the group, whose last follows all the same.
    found = read(_seen("rust", "rust", "leaf"), on, "code", "once", "open", "eliminate")
    assert found == ["rust", "rust", "leaf", "sky"]


def test_an_unseen_slot_follows_from_the_others() -> None:
    on = in_order(3, 'one_of_each = ["rust", "leaf", "sky"]').replace('name = "s3"\n', 'name = "s3"\nunseen = true\n')
    made = _seen("rust", "leaf", "pink")
    assert read(made, course(on), "code", "once", "eliminate") == ["rust", "leaf", "sky", "+pink"]
    plan = plan_of(made, course(on), "code", "once", "eliminate")
    assert decode(events_of(made, plan)[2][2]) == Decision(2, INFERRED, plan.names.index("sky"))


def test_an_empty_slot_is_read_as_empty_in_its_window_only() -> None:
    on = slots(3.0, 8.0).replace('name = "s1"\n', 'name = "s1"\nempty_ok = true\n')
    made = Made().to(75).to(85, "leaf").to(120)
    assert read(made, course(on), "code", "windows", "vote") == ["empty", "leaf"]
    assert read(Made().to(75).to(120), course(on), "code", "windows", "vote") == ["empty", "-"]


def test_what_must_be_answered_is_marked_as_assumed() -> None:
    made = _seen("rust")
    plan = plan_of(made, course(in_order(2)), "code", "once", "assume")
    assert decode(events_of(made, plan)[-1][2]) == Decision(1, ASSUMED, plan.names.index("leaf"))


def test_assuming_may_come_in_mid_run() -> None:
    made = _seen("none").none(50)
    plan = plan_of(made, course(in_order(1)), "code", "once", "assume after_ms=300 colour=sky")
    (row, _, event), *_ = events_of(made, plan)
    assert row == 30
    assert decode(event) == Decision(0, ASSUMED, plan.names.index("sky"))


def test_beyond_the_last_slot_it_is_surplus() -> None:
    assert read(_seen("rust", "leaf", "sky"), course(in_order(2)), "code", "once") == ["rust", "leaf", "+sky"]


TWO_SENSORS = """[[sensor]]
name = "left"
[[sensor]]
name = "right"
[[slot]]
name = "a"
sensor = "left"
group = "g"
[[slot]]
name = "b"
sensor = "right"
group = "g"
[[slot]]
name = "c"
sensor = "left"
group = "g"
[[group]]
name = "g"
one_of_each = ["rust", "leaf", "sky"]
"""


def _two(*pairs: tuple[int, int]) -> Made:
    made = Made()
    for left, right in pairs:
        made.see("", 3, **{"colour.left": left, "colour.right": right})
    for row in made.rows:
        del row["colour"]
    return made


@pytest.mark.parametrize("rows", [[(0, 0), (1, 0), (0, 2), (0, 0)], [(0, 0), (1, 2), (0, 0)]])
def test_two_sensors_share_one_ledger(rows: list[tuple[int, int]]) -> None:
    # The left sensor's second slot follows from its first and the right sensor's.
    assert read(_two(*rows), course(TWO_SENSORS), "code", "open", "once", "eliminate") == ["rust", "leaf", "sky"]


def test_one_sensors_colour_is_not_open_to_the_other() -> None:
    made = _two((0, 0), (1, 1), (0, 2), (0, 0))
    assert read(made, course(TWO_SENSORS), "code", "open", "once") == ["rust", "leaf", "-"]


def test_stopping_says_where_the_robot_would_stand() -> None:
    # 200 mm/s: 40 ms of latency are 8 mm, braking at 1000 mm/s2 takes 20 mm more.
    made = Made(step_mm=2.0).none(30).see("rust", 30)
    plan = plan_of(made, course(in_order(1)), "code", "stop-at loop_ms=10 motor_ms=30 brake_mm_s2=1000 reach_mm=500")
    events_of(made, plan)
    assert plan.chains[0].moment.stop == 600 + 80 + 200


def test_driving_on_past_the_stop_diverges_and_ends_all_reading() -> None:
    made = Made().none(10).see("rust", 5).none(60).see("leaf", 5)
    assert read(made, course(in_order(2)), "code", "stop-at", "once") == ["-", "-", "+elsewhere"]


def test_a_task_ends_for_each_sensor_by_itself() -> None:
    on = TWO_SENSORS.partition('[[slot]]\nname = "c"')[0] + '[[group]]\nname = "g"\ndistinct = ["rust", "leaf", "sky"]\n'
    made = _two((0, 0), (1, 0), (0, 0), (3, 0), (0, 0), (0, 2), (0, 0), (0, 3), (0, 0))
    # The left one has read its only slot long before the right one has.
    assert read(made, course(on), "code", "until-done", "once") == ["rust", "leaf"]
    assert read(made, course(on), "code", "once") == ["rust", "leaf", "+sky", "+sky"]


def test_a_task_does_not_wait_for_a_slot_that_no_sensor_passes() -> None:
    on = in_order(3, 'one_of_each = ["rust", "leaf", "sky"]').replace('name = "s3"\n', 'name = "s3"\nunseen = true\n')
    assert read(_seen("rust", "leaf", "pink"), course(on), "code", "until-done", "once") == ["rust", "leaf", "-"]


def test_each_slot_keeps_where_the_robot_would_have_stood_for_it() -> None:
    made = Made(step_mm=2.0)
    for colour in ("rust", "leaf"):
        made.none(30).see(colour, 5).see(colour, 30, step_mm=0.0)
    words = ("code", "stop-at loop_ms=10 motor_ms=30 brake_mm_s2=1000 reach_mm=500")
    plan = plan_of(made.none(30), course(in_order(3)), *words)
    events_of(made, plan)
    # As above: 28 mm behind the first sample of a colour, which lie at 60 mm and at 130 mm.
    assert [plan.stop_mm10(0, slot) for slot in (0, 1, 2)] == [880, 1580, None]
    plan.reset()
    assert plan.stop_mm10(0, 0) is None


def test_what_is_used_up_in_one_group_is_open_in_the_other() -> None:
    two = "".join(f'[[slot]]\nname = "t{k}"\ngroup = "h"\n' for k in (1, 2))
    rule = 'one_of_each = ["rust", "leaf"]'
    on = course(in_order(2, rule) + two + f'[[group]]\nname = "h"\n{rule}\n')
    assert read(_seen("rust", "leaf", "leaf", "rust"), on, "code", "once", "open") == ["rust", "leaf", "leaf", "rust"]


@pytest.mark.parametrize(("colours", "done"), [(("rust",), 0), (("rust", "leaf"), 1)])
def test_a_logic_of_ones_own_can_see_that_every_slot_is_decided(colours: tuple[str, ...], done: int) -> None:
    made = _seen(*colours)
    plan = plan_of(made, course(in_order(2)), "code", "once")
    plan.run(wholes_of(made, plan), {}, 0, len(made.rows))
    assert plan.chains[0].moment.done == done
