"""One runner for live and replay: the same readings however the rows arrive."""

from hypothesis import given, settings
from hypothesis import strategies as st

from replay.runs import GOOD, ROW, drive, pieces, row, table_of
from telemetry.course import parse_course
from telemetry.live.readings import LiveReadings
from telemetry.reading.load import load_strategy
from telemetry.reading.strategies import STRATEGIES
from telemetry.replay.header import PlanShelf, palette_for, plan_for, usable_columns
from telemetry.replay.readings import Reading
from telemetry.replay.runner import Runner, Shared
from telemetry.sample import SampleTable

PLAIN = ("first-come", "hold", "checklist", "windows", "map-and-list", "always-answer", "evidence")


def runner_for(strategy, table, course=row, shared=None):
    return Runner(plan_for(load_strategy(strategy), course, palette_for(table, course, None), table), shared)


def replay(strategy, table, course=row, shared=None):
    runner = runner_for(strategy, table, course, shared)
    runner.advance(table)
    runner.finish()
    return runner


def short(readings):
    return [(one.slot, one.colour, one.how, one.row) for one in readings]


def test_readings_name_slot_colour_time_and_place():
    runner = replay("hold", table_of(drive(*GOOD)))
    assert runner.readings == [
        Reading(0, "rust", "read", None, 200, 10.0, 20, 0, 0),
        Reading(1, "leaf", "read", None, 400, 20.0, 40, 0, 0),
        Reading(2, "sky", "read", None, 600, 30.0, 60, 0, 0),
    ]
    assert [one.colour for one in runner.taken.slots] == ["rust", "leaf", "sky"]
    assert runner.taken.decided


def test_place_is_the_sensors_not_the_robots():
    ahead = parse_course(ROW.replace("[[slot]]", '[[sensor]]\nname = "s"\nahead_cm = 4.5\n[[slot]]', 1))
    runner = replay("hold", table_of(drive((4.5, 6.5, "rust"))), ahead)
    assert runner.readings[0].dist_cm == 10.0


STREAM = drive(*GOOD, (25, 25.5, "pink"), notes=[(0, "go"), (15, "half way")]) + drive(*GOOD, start_ms=2000, to_cm=24)


@settings(max_examples=30, deadline=None)
@given(st.sampled_from(PLAIN), st.lists(st.integers(1, 40), max_size=40), st.booleans())
def test_live_is_replay_in_pieces(strategy, steps, whole_rest):
    """The keystone: what a growing run gives is what its recording gives, and a prefix of it at every moment."""
    table = table_of(STREAM)
    expected = short(replay(strategy, table).readings)
    live = runner_for(strategy, table)
    given_out = []
    rows = 0
    for step in steps:
        rows = min(rows + step, table.rows)
        part = SampleTable({name: column[:rows] for name, column in table.columns.items()}, rows, table.colours)
        part.notes = [note for note in table.notes if note.row <= rows]
        given_out += live.advance(part)
        assert short(given_out) == expected[: len(given_out)]
    if whole_rest:
        given_out += live.advance(table)
        given_out += live.finish()
        assert short(given_out) == expected


@settings(max_examples=25, deadline=None)
@given(st.sampled_from(PLAIN), st.integers(7, 400))
def test_live_from_bytes_is_replay(strategy, cut):
    expected = short(replay(strategy, table_of(STREAM)).readings)
    table = SampleTable()
    live = None
    given_out = []
    for chunk in pieces(STREAM, cut):
        table.append(chunk)
        if table.columns:
            live = live or runner_for(strategy, table)
            given_out += live.advance(table)
            assert short(given_out) == expected[: len(given_out)]
    assert live is not None
    given_out += live.finish()
    assert short(given_out) == expected


def test_finish_twice_gives_nothing_twice():
    runner = runner_for("map-and-list", table_of(drive(*GOOD)))
    first = runner.advance(table_of(drive(*GOOD))) + runner.finish()
    assert runner.finish() == []
    assert first == runner.readings


def test_an_empty_table_is_no_problem():
    table = table_of("#t/ms,colour,dist/cm\n")
    runner = replay("checklist", table)
    assert runner.readings == []
    assert [one.how for one in runner.taken.slots] == ["missing"] * 3


def test_a_restart_begins_again_and_the_longest_stretch_counts():
    text = drive(*GOOD, to_cm=14) + drive((9, 11, "pink"), (19, 21, "leaf"), (29, 31, "sky")) + drive(to_cm=3)
    table = table_of(text)
    runner = replay("hold", table)
    assert len(runner.stretches) == 3
    assert [one.colour for one in runner.taken.slots] == ["pink", "leaf", "sky"]
    # nothing of what was given out before the restart is taken back
    assert [one.colour for one in runner.readings] == ["rust", "pink", "leaf", "sky"]
    # the place is counted anew, too
    assert [one.dist_cm for one in runner.readings] == [10.0, 10.0, 20.0, 30.0]


def test_a_restart_is_one_too_where_the_rows_arrive_just_up_to_it():
    table = table_of(drive(*GOOD, to_cm=14) + drive((9, 11, "pink"), to_cm=20))
    expected = replay("hold", table)
    first = int(table.columns["boot"].argmax())
    part = SampleTable({name: column[:first] for name, column in table.columns.items()}, first, table.colours)
    live = runner_for("hold", table)
    live.advance(part)
    live.advance(table)
    live.finish()
    assert [(one.start, one.stop) for one in live.stretches] == [(one.start, one.stop) for one in expected.stretches]
    assert [one.dist_cm for one in live.readings] == [one.dist_cm for one in expected.readings] == [10.0, 10.0]


def test_a_header_that_changes_in_mid_run():
    text = drive(*GOOD, to_cm=15)
    more = drive(*GOOD).splitlines()[32:]
    swapped = "#t/ms,dist/cm,battery/V,colour\n" + "".join(
        "{0},{2},7.4,{1}\n".format(*line.split(",")) for line in more
    )
    whole = replay("hold", table_of(text + swapped))
    assert short(whole.readings) == short(replay("hold", table_of(drive(*GOOD))).readings)
    table = SampleTable()
    live = None
    out = []
    for chunk in pieces(text + swapped, 50):
        table.append(chunk)
        if table.columns:
            live = live or runner_for("hold", table)
            out += live.advance(table)
    out += live.finish()
    assert short(out) == short(whole.readings)


def test_a_colour_that_first_appears_late():
    text = drive((9, 11, "rust"), to_cm=15)
    table = SampleTable()
    live = None
    out = []
    for chunk in pieces(text + "".join(drive((19, 21, "plum"), (29, 31, "sky")).splitlines(True)[32:]), 40):
        table.append(chunk)
        if table.columns:
            live = live or runner_for("first-come", table)
            out += live.advance(table)
    assert [one.colour for one in out] == ["rust", "plum", "sky"]


def test_the_live_label_is_what_the_newest_sample_looks_like():
    table = table_of(drive(*GOOD, to_cm=9.5))
    runner = runner_for("hold", table)
    assert runner.label == {"": None}
    runner.advance(table)
    assert runner.label == {"": "rust"}


def test_strategies_share_what_is_common_without_disturbing_each_other():
    table = table_of(STREAM)
    shared = Shared()
    for name in PLAIN:
        assert short(replay(name, table, shared=shared).readings) == short(replay(name, table).readings)


def test_a_plan_from_the_shelf_is_as_good_as_new():
    shelf = PlanShelf()
    table = table_of(STREAM)
    palette = palette_for(table, row, None)
    for _ in range(2):
        for name, strategy in STRATEGIES.items():
            plan = shelf.plan(strategy, row, palette, table)
            runner = Runner(plan)
            runner.advance(table)
            runner.finish()
            assert short(runner.readings) == short(replay(name, table).readings)
    assert shelf.plan(STRATEGIES["hold"], row, palette, table) is shelf.plan(STRATEGIES["hold"], row, palette, table)


def test_a_colour_column_that_stays_empty_is_not_relied_on():
    head = "#t/ms,colour,red,green,blue\n"
    raw = table_of(head + "".join(f"{t},,500,90,60\n" for t in range(9)))
    assert "colour" not in usable_columns(raw, row)[0]
    both = table_of(head + "".join(f"{t},rust,500,90,60\n" for t in range(9)))
    assert "colour" in usable_columns(both, row)[0]
    nothing_yet = table_of(head + "1,,,,\n")
    assert usable_columns(nothing_yet, row) == (tuple(nothing_yet.columns), False)


def test_raw_channels_are_read_where_no_colour_is_sent():
    """The built-in palette tells red from green; the values are shares of 1023 (common practice, no source)."""
    lines = ["#t/ms,colour,red,green,blue,dist/cm", "#range,red=0..1023,green=0..1023,blue=0..1023"]
    for i in range(80):
        cm = i * 0.5
        look = "590,70,70" if 9 <= cm <= 11 else "90,370,130" if 19 <= cm <= 21 else "130,130,130"
        lines.append(f"{i * 10},,{look},{cm}")
    colours = '[course]\nname="x"\n[[slot]]\nname="a"\nat_cm=10\ngroup="g"\n[[slot]]\nname="b"\nat_cm=20\ngroup="g"\n'
    course = parse_course(colours + '[[group]]\nname="g"\ndistinct=["red","green","blue"]\n')
    runner = replay("hold", table_of("\n".join(lines) + "\n"), course)
    assert [one.colour for one in runner.taken.slots] == ["red", "green"]


def test_what_a_run_lacks_is_said():
    table = table_of("#t/ms,colour\n1,rust\n2,rust\n")
    assert "windows needs a distance" in runner_for("windows", table).lacks(table)
    assert runner_for("hold", table).lacks(table) == ""


def test_live_readings_do_not_wait_for_a_note_that_is_still_to_come():
    gate = parse_course(
        '[course]\nname="x"\n[[leg]]\nname="lane"\n[[leg]]\nname="yard"\nstarts="note:gate open"\n'
        '[[slot]]\nname="a"\nleg="lane"\nat_cm=10\ncolours=["rust"]\n'
        '[[slot]]\nname="b"\nleg="yard"\nat_cm=10\ncolours=["leaf"]\n'
    )
    table = table_of(drive((9, 11, "rust")))
    live = LiveReadings(gate, {"checklist": load_strategy("checklist")})
    assert [(name, one.slot, one.colour) for name, one in live.advance(table)] == [("checklist", 0, "rust")]
    assert live.lacking == {"checklist": ""}
    # When all is over, it is missed.
    assert live.finish(table) == []
    assert "needs the note 'gate open'" in live.lacking["checklist"]


def test_live_readings_wait_for_a_channel():
    table = table_of("#t/ms,colour\n1,rust\n2,rust\n")
    live = LiveReadings(row, {"windows": load_strategy("windows")})
    assert live.advance(table) == []
    assert "windows needs a distance" in live.lacking["windows"]


def test_two_sensors_read_their_own_slots():
    course = parse_course(
        '[course]\nname="x"\n[[sensor]]\nname="l"\n[[sensor]]\nname="r"\nahead_cm=2\n'
        '[[slot]]\nname="a"\nsensor="l"\nat_cm=10\ncolours=["rust","leaf"]\n'
        '[[slot]]\nname="b"\nsensor="r"\nat_cm=10\ncolours=["rust","leaf"]\n'
    )
    lines = ["#t/ms,colour.l,colour.r,dist/cm"]
    for i in range(40):
        cm = i * 0.5
        lines.append(f"{i * 10},{'rust' if 9 <= cm <= 11 else 'none'},{'leaf' if 7 <= cm <= 9 else 'none'},{cm}")
    runner = replay("hold", table_of("\n".join(lines) + "\n"), course)
    assert [(one.slot, one.colour, one.dist_cm, one.sensor) for one in runner.readings] == [
        (1, "leaf", 10.0, 1),
        (0, "rust", 10.0, 0),
    ]


def test_runners_that_share_a_walk_may_go_on_with_a_run_that_grows():
    legs = ROW.replace("[[slot]]", '[[leg]]\nname = "in"\n[[leg]]\nname = "yard"\nstarts = "note:gate"\n[[slot]]', 1)
    legs = legs.replace('name = "c"', 'name = "c"\nleg = "yard"')
    for name in "ab":
        legs = legs.replace(f'name = "{name}"', f'name = "{name}"\nleg = "in"')
    course = parse_course(legs.replace('name = "hose"', 'name = "hose"\nleg = "yard"'))
    whole = table_of(drive(*GOOD, to_cm=14) + drive(*GOOD, notes=[(24, "gate")]))
    after = int(whole.columns["boot"].argmax()) + 60
    part = SampleTable({name: column[:after] for name, column in whole.columns.items()}, after, whole.colours)
    part.notes = [note for note in whole.notes if note.row <= after]
    shared = Shared()
    runners = [runner_for(strategy, whole, course, shared) for strategy in ("hold", "windows")]
    for table in (part, whole):
        for runner in runners:
            runner.advance(table)
    alone = replay("hold", whole, course)
    assert list(shared.walk(runners[0].plan).legs[0]) == list(alone.walk.legs[0])
    assert alone.walk.legs[0][-1] == 1


def test_a_single_note_is_heard():
    legs = ROW.replace("[[slot]]", '[[leg]]\nname = "in"\n[[leg]]\nname = "yard"\nstarts = "note:gate"\n[[slot]]', 1)
    for name, leg in (("a", "in"), ("b", "yard"), ("c", "yard"), ("hose", "yard")):
        legs = legs.replace(f'name = "{name}"', f'name = "{name}"\nleg = "{leg}"')
    runner = replay("hold", table_of(drive(*GOOD, notes=[(15, "gate")])), parse_course(legs))
    assert runner.walk.leg(0, 29) == 0
    assert runner.walk.leg(0, 31) == 1


def test_what_is_forgotten_takes_no_memory():
    table = table_of(drive(*GOOD))
    runner = replay("hold", table)
    rows = table.rows
    runner.forget(50)
    assert len(runner.walk.legs[0]) == len(runner.walk.places[0]) == rows - 50
    assert runner.walk.place_cm(0, 60) == 30.0
    runner.forget(20)
    assert len(runner.walk.legs[0]) == rows - 50
