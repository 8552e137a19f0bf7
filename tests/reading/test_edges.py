"""Where a stage's rule begins and ends, to the very number: the stages of the core stepped one by one."""

from __future__ import annotations

from typing import Any

from telemetry.reading.portable.arming import AfterRamp, FromDistance, FromHeading
from telemetry.reading.portable.constraints import Eliminate
from telemetry.reading.portable.label import Nearest
from telemetry.reading.portable.moment import Moment
from telemetry.reading.portable.place import Decoys, LegByLeg, Windows
from telemetry.reading.portable.stopping import StopAt
from telemetry.reading.portable.taking import RunOn
from telemetry.reading.portable.track import Track
from telemetry.reading.portable.trust import Hold, Settle, Smooth, Vote
from telemetry.sample import MISSING

END = (1 << 30) - 1


def at(**values: int) -> Any:
    moment = Moment()  # type: ignore[no-untyped-call]
    for name, value in values.items():
        setattr(moment, name, value)
    return moment


def test_after_two_seconds_without_a_distance_the_speed_is_not_known() -> None:
    track: Any = Track([0, 0], [0, 0], [0, 0], 0, [-1], [0])  # type: ignore[no-untyped-call]
    speeds = []
    for t, d in ((0, 0), (100, 1000), (2100, 3000), (4101, 5000), (4201, 6000)):
        m = at(t=t, d=d)
        track.step(-1, m)
        speeds.append(m.v)
    assert speeds == [MISSING, 10_000, 1_000, MISSING, 10_000]


def test_a_measurement_is_another_one_when_any_channel_differs() -> None:
    same = {"red": 1, "green": 2, "blue": 3, "refl": 4}
    for channel in same:
        hold: Any = Hold(2, 0, 1, 0)  # type: ignore[no-untyped-call]
        steps = [hold.step(1, at(**same)), hold.step(1, at(**same)), hold.step(1, at(**same | {channel: 9}))]
        assert steps == [-1, -1, 1], channel


def test_of_equals_the_one_given_before_stays() -> None:
    smooth: Any = Smooth(4)  # type: ignore[no-untyped-call]
    assert [smooth.step(label, None) for label in (1, 1, 1, 2, 2)] == [0, 0, 1, 1, 1]


def test_a_share_that_is_just_reached_wins() -> None:
    for share, wins in ((50, 1), (51, -1)):
        vote: Any = Vote(2, share, [6, 0])  # type: ignore[no-untyped-call]
        for label in (1, 1, 2, 3):
            vote.step(label, at(slot=0))
        assert vote.step(0, at(slot=-1)) == wins


def test_backwards_is_driving_too() -> None:
    settle: Any = Settle(0, 10, 0)  # type: ignore[no-untyped-call]
    settle.step(1, at(v=0, t=0))
    assert [settle.step(1, at(v=v, t=10)) for v in (-500, 500)] == [0, 0]


def test_after_exactly_the_length_a_colour_counts_again() -> None:
    run_on: Any = RunOn(100, 50)  # type: ignore[no-untyped-call]
    assert [run_on.step(1, at(d=d)) for d in (0, 99, 100)] == [1, -1, 1]


def test_both_edges_belong_to_a_window_and_to_a_decoy() -> None:
    windows: Any = Windows([0], [0, -1], [100, END], [200, END])  # type: ignore[no-untyped-call]
    assert [windows.step(5, at(pos=pos)) for pos in (99, 100, 200, 201)] == [-1, 5, 5, -1]
    decoys: Any = Decoys([0], [100, END], [200, END])  # type: ignore[no-untyped-call]
    assert [decoys.step(5, at(pos=pos)) for pos in (99, 100, 200, 201)] == [5, -1, -1, 5]


def test_what_was_decided_is_passed_over_on_its_leg() -> None:
    board = [6, 6, 6, 0]
    leg_by_leg: Any = LegByLeg([0, 3], [0, 1, -1, 2, -1], board)  # type: ignore[no-untyped-call]
    m = at()
    assert (leg_by_leg.step(1, m), m.slot) == (1, 0)
    board[0] = -1
    assert (leg_by_leg.step(1, m), m.slot) == (1, 1)
    board[1] = -1
    assert (leg_by_leg.step(1, m), m.slot) == (-1, -1)
    m.leg = 1
    assert (leg_by_leg.step(1, m), m.slot) == (1, 2)


def test_where_a_robot_would_stand_and_from_where_on_it_would_be_elsewhere() -> None:
    """500 mm/s braked at 1000 mm/s2 take v2 / 2a = 125 mm, after 20 + 30 ms at that speed: 25 mm more."""
    stop: Any = StopAt(20, 30, 1000, 100, 10, [0, 0], [6, 0])  # type: ignore[no-untyped-call]
    m = at(pos=1000, v=5000, slot=0)
    assert stop.step(1, m) == -1
    assert m.stop == 1000 + 250 + 1250
    m.pos = 2600
    assert (stop.step(1, m), m.how) == (-1, 0)
    m.pos = 2601
    assert (stop.step(1, m), m.how) == (0, 4)


def test_of_two_colours_equally_near_the_first_is_taken_and_at_the_limit_none_is() -> None:
    grey = [333, 333, 333, 900]
    for limit, label in ((50, 1), (0, 0)):
        nearest: Any = Nearest([1, *grey, 2, *grey], 0, 0, 0, 100, limit)  # type: ignore[no-untyped-call]
        assert nearest.step(-1, at(red=300, green=300, blue=300)) == label


def test_from_a_place_on_is_from_that_very_place_on() -> None:
    arm: Any = FromDistance(100, 0)  # type: ignore[no-untyped-call]
    assert [arm.step(5, at(pos=pos)) for pos in (99, 100, 0)] == [-1, 5, 5]


def test_a_heading_is_the_same_after_any_number_of_turns() -> None:
    for heading in (900, 900 + 3600, 900 - 7200, 905, 895):
        arm: Any = FromHeading(900, 5)  # type: ignore[no-untyped-call]
        assert arm.step(5, at(h=heading)) == 5, heading
    arm = FromHeading(900, 5)  # type: ignore[no-untyped-call]
    assert [arm.step(5, at(h=heading)) for heading in (894, 906, 4506)] == [-1, -1, -1]


def test_a_speed_that_wobbles_too_much_begins_the_steady_time_anew() -> None:
    ramp: Any = AfterRamp(30, 100, 20, 0)  # type: ignore[no-untyped-call]
    said = [ramp.step(5, at(t=t, v=v)) for t, v in ((0, 500), (20, 520), (40, 541), (60, 541), (70, 541))]
    assert said == [-1, -1, -1, -1, 5]


def test_what_the_sensor_passes_follows_at_the_end_only_unless_early() -> None:
    for early, ends in ((0, [-1, -1, 1]), (1, [1, 1, 1])):
        eliminate: Any = Eliminate(early, [1, 0], [2, 0], [1])  # type: ignore[no-untyped-call]
        said = []
        for end in (0, 1, 2):
            eliminate.reset()
            said.append(eliminate.step(-1, at(end=end)))
        assert said == ends
