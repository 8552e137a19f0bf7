"""One sentence for each slot that failed, saying what the samples and the stages did."""

import pytest

from replay.runs import GOOD, ROW, TRUTH, drive, row, table_of
from telemetry.course import parse_course
from telemetry.findings import Finding, FindingKind
from telemetry.reading.load import load_strategy
from telemetry.replay.case import Case
from telemetry.replay.explain import explain
from telemetry.replay.judge import judge
from telemetry.replay.readings import INFERRED, READ, Reading, taken_from
from telemetry.replay.scoring.score import Outcome
from telemetry.wording import sentence


def why(strategy, text, truth=TRUTH, course=row):
    (result,), _ = judge(Case("x.h5", table_of(text), course, truth), {strategy: load_strategy(strategy)})
    return result.why


def test_nothing_is_said_about_a_run_that_was_read_right():
    assert why("hold", drive(*GOOD)) == ()


def test_seen_too_short():
    text = drive(GOOD[0], (20.0, 20.0, "leaf"), GOOD[2])
    assert why("windows", text) == (
        "b: leaf seen for 1 sample at 20.0 cm, vote asks for 2 samples and 50 % of those that show a colour",
    )


def test_seen_too_short_in_a_strategy_that_counts_on():
    text = drive(GOOD[0], (20.0, 20.5, "leaf"), GOOD[2])
    assert why("hold", text) == (
        "b: leaf seen for 2 samples at 20.0 to 20.5 cm, hold asks for 3 samples; it got sky, which is c's",
        "c got nothing because of that",
    )


def test_never_reported():
    text = drive(GOOD[0], (19.0, 20.5, "pink"), GOOD[2])
    assert why("windows", text) == (
        "b: read pink at 22.5 cm, leaf stands there: no sample looked like leaf; seen: pink for 4 samples",
    )


def test_never_reported_and_nothing_taken():
    text = drive(GOOD[0], GOOD[2])
    (one,) = why("windows", text)
    assert one.startswith("b: no sample there looked like leaf; seen: none for all ")


def test_both_colours_seen():
    text = drive(GOOD[0], (19.0, 19.0, "leaf"), (19.5, 21.0, "rust"), GOOD[2])
    assert why("windows", text) == (
        "b: read rust at 22.5 cm, leaf stands there: the sensor said rust for 4 samples and leaf for 1 sample",
    )


def test_another_colour_before_the_place_is_not_said_to_be_there():
    text = drive(GOOD[0], (14.0, 14.5, "pink"), (15.0, 20.5, "leaf"), GOOD[2])
    (one,) = why("first-come", text)
    assert one == (
        "b: read pink at 14.0 cm; leaf stands at 20 cm by the course, where the sensor said leaf for 12 samples"
    )


def test_outside_its_window():
    text = drive(GOOD[0], (22.5, 24.0, "leaf"), GOOD[2])
    no_decoy = parse_course(ROW.replace("at_cm = 25", "at_cm = 35"))
    assert why("windows", text, TRUTH, no_decoy) == (
        "b: leaf seen for 4 samples at 22.5 to 24.0 cm, 2.5 cm off its place: windows reach 1.2 cm beyond a marker",
    )


def test_not_armed_yet(tmp_path):
    file = tmp_path / "late.toml"
    file.write_text('[[stage]]\nuse="auto"\n[[stage]]\nuse="from-distance"\nmm=150\n[[stage]]\nuse="windows"\n[[stage]]\nuse="vote"\n')
    assert why(str(file), drive(*GOOD)) == ("a: rust seen for 5 samples at 9.0 to 11.0 cm, from-distance begins at 15 cm",)


def test_not_open_any_more(tmp_path):
    file = tmp_path / "placed.toml"
    file.write_text("".join(f'[[stage]]\nuse="{stage}"\n' for stage in ("auto", "windows", "open", "hold")))
    got = why(str(file), drive(GOOD[0], (19, 21, "rust"), GOOD[2]), ("leaf", "rust", "sky"))
    assert got == (
        "a: read rust at 10.0 cm, leaf stands there: no sample looked like leaf; seen: rust for 5 samples",
        "b: rust seen for 5 samples at 19.0 to 21.0 cm, that colour is not open any more (a has it)",
    )


def test_a_repetition_names_the_flicker():
    text = drive((9.0, 10.0, "rust"), (11.0, 12.0, "rust"), GOOD[1], GOOD[2])
    sentences = why("first-come", text)
    assert sentences[0] == "b: took rust at 11.0 cm, a second time: it flickered, with none for 1 sample in between"
    assert sentences[1:] == ("so c got the colour of another slot",)


def test_a_decoy_is_named():
    text = drive(GOOD[0], GOOD[1], (24.5, 25.5, "pink"), GOOD[2])
    assert why("hold", text)[0] == "c: took pink at 25.5 cm, where no marker stands (decoy 'hose'); sky was missed"


def test_a_colour_where_nothing_stands():
    text = drive((4.0, 6.0, "pink"), *GOOD)
    assert why("hold", text)[0] == "a: took pink at 5.0 cm, where no such marker stands: the sensor said so for 5 samples"


def test_a_run_that_ends_early():
    text = drive(GOOD[0], (19, 21, "pink"), to_cm=22)
    assert why("hold", text)[-1] == "c: the run has no sample at 30 cm"


def test_an_empty_slot_that_was_read():
    empty = parse_course(ROW.replace('name = "b"', 'name = "b"\nempty_ok = true'))
    (one,) = why("windows", drive(*GOOD), ("rust", "empty", "sky"), empty)
    assert one == "b: leaf was read at 22.5 cm, but nothing stands there"


def test_where_anothers_marker_stands_it_is_named():
    empty = parse_course(ROW.replace('name = "c"', 'name = "c"\nempty_ok = true'))
    one = why("hold", drive((9, 11, "rust"), (14, 15.5, "pink"), (19, 21, "leaf")), ("rust", "leaf", "empty"), empty)[-1]
    assert one == "c: leaf was read at 20.0 cm, where b stands; nothing stands at c"


def test_what_lies_too_far_apart_is_no_flicker():
    """No marker is so wide: the second reading is of something else."""
    text = drive((9, 11, "rust"), (16.5, 17.5, "rust"), GOOD[1], GOOD[2])
    assert why("first-come", text)[0] == "b: took rust at 16.5 cm, a second time"
    numbers = {"got": "rust", "want": "sky", "at_cm": 20.0, "standing": "stands there", "whose": "b"}
    second = Finding(FindingKind.TOOK_TOO_MUCH, "c", "repeated", numbers)
    assert sentence(second) == "c: took rust at 20.0 cm, a second time, where b stands"


UNSEEN = ROW.replace('distinct = ["rust", "leaf", "sky", "pink"]', 'one_of_each = ["rust", "leaf", "sky", "pink"]').replace(
    "[[decoy]]", '[[slot]]\nname = "d"\ngroup = "g"\nunseen = true\n[[decoy]]'
)


def test_an_unseen_slot_that_follows_wrongly_or_not_at_all(tmp_path):
    course = parse_course(UNSEEN)
    truth = (*TRUTH, "pink")
    assert why("checklist", drive(*GOOD), truth, course) == ()
    missed = why("checklist", drive(GOOD[0], GOOD[1]), truth, course)
    assert missed[1] == "d: pink did not follow, because c stayed open"
    wrong = why("windows", drive(GOOD[0], GOOD[1], (29, 31, "pink")), truth, course)
    assert wrong[0].startswith("c: read pink at 32.5 cm")
    file = tmp_path / "no_inference.toml"
    file.write_text('[[stage]]\nuse="auto"\n[[stage]]\nuse="once"\n')
    assert why(str(file), drive(*GOOD), truth, course) == (
        "d: pink cannot be seen there, and this strategy infers nothing ('eliminate' would)",
    )


def test_without_distances_the_neighbours_readings_bound_the_place():
    text = drive(GOOD[0], (20.0, 20.0, "leaf"), GOOD[2])
    no_dist = "".join(line.rsplit(",", 1)[0] + "\n" for line in text.splitlines())
    sentences = why("hold", no_dist)
    assert sentences[0] == "b: leaf seen for 1 sample, hold asks for 3 samples; it got sky, which is c's"


def test_the_robots_own_readings_are_explained_without_a_log():
    text = drive(*GOOD) + "!1000,read,a,rust\n!1001,read,b,pink\n"
    _, robot = judge(Case("x.h5", table_of(text), row, TRUTH), {})
    assert robot.outcome is Outcome.WRONG
    assert robot.why == ("b: read pink, leaf stands there", "c: sky was missed")


@pytest.mark.parametrize("strategy", ["first-come", "hold", "checklist", "windows", "map-and-list", "evidence"])
@pytest.mark.parametrize("truth", [("sky", "rust", "leaf"), ("pink", "leaf", "sky"), ("leaf", "pink", "rust")])
def test_every_wrong_run_has_a_reason(strategy, truth):
    """Whatever stood there and whatever was read, there is something to say, in plain sentences."""
    for text in (drive(*GOOD), drive(GOOD[1]), drive((9, 31, "rust")), drive()):
        for words in why(strategy, text, truth):
            assert words.isprintable()
            assert words[-1] != "."
        (result,), _ = judge(Case("x", table_of(text), row, truth), {strategy: load_strategy(strategy)})
        assert bool(result.why) == (result.outcome is Outcome.WRONG or result.score.errors.total > 0)


def test_a_strategy_that_weighs_the_channels_is_not_said_to_have_missed_its_window():
    """Two markers of one colour: the first one has it, and no sample was out of place."""
    text = drive(GOOD[0], (19.0, 21.0, "rust"), GOOD[2])
    (one, *_) = why("enough", text, ("rust", "rust", "sky"))
    assert one == "b: rust seen for 5 samples at 19.0 to 21.0 cm, that colour is not open any more (a has it)"


def test_out_of_its_window_is_said_of_a_strategy_that_weighs_too():
    text = drive(GOOD[0], (22.5, 24.0, "leaf"), GOOD[2])
    no_decoy = parse_course(ROW.replace("at_cm = 25", "at_cm = 35"))
    (one, *_) = why("enough", text, TRUTH, no_decoy)
    assert "2.5 cm off its place: windows reach 1.2 cm beyond a marker" in one


def test_none_is_counted_over_the_marker_and_not_while_the_robot_stands_nearby():
    text = drive(GOOD[0], GOOD[2])
    standing = "".join(line for line in text.splitlines(keepends=True) for _ in range(40 if line.endswith(",17\n") else 1))
    (one,) = why("windows", standing)
    assert one == "b: no sample there looked like leaf; seen: none for all 5 samples"


LEGS = ROW.replace("[[slot]]", '[[leg]]\nname = "lane"\n[[leg]]\nname = "yard"\nstarts = "note:go"\n[[slot]]', 1)
LEGS = LEGS.replace("at_cm", 'leg = "lane"\nat_cm').replace('"hose"\nleg = "lane"', '"hose"\nleg = "yard"')


def found(course, *readings):
    """What is found where these readings were taken, without a look at the samples."""
    return explain(course, TRUTH, taken_from(course, readings))


@pytest.mark.parametrize(("first", "others_right"), [("rust", True), ("pink", False)])
def test_what_followed_wrongly_says_whether_the_others_were_right(first, others_right):
    taken = (Reading(0, first, READ, dist_cm=10.0, leg=0), Reading(1, "leaf", READ, dist_cm=20.0, leg=0))
    last = found(row, *taken, Reading(2, "pink" if others_right else "rust", INFERRED))[-1]
    assert (last.kind, last.slot) == (FindingKind.FOLLOWED_WRONGLY, "c")
    assert last.numbers["others_right"] is others_right


@pytest.mark.parametrize(("leg", "name"), [(0, ""), (1, "hose")])
def test_a_decoy_of_another_leg_is_not_what_was_read(leg, name):
    right = [Reading(i, colour, READ, dist_cm=10.0 * (i + 1), leg=0) for i, colour in enumerate(TRUTH)]
    (one,) = found(parse_course(LEGS), *right, Reading(None, "pink", READ, dist_cm=25.0, leg=leg))
    assert one.kind is FindingKind.SURPLUS
    assert (one.numbers.get("decoy") or "") == name


def test_what_is_decided_when_all_is_over_was_decided_at_no_place():
    """The drive ends over the last marker: its majority is taken at the end of the run."""
    text = drive(*GOOD[:2], (29.0, 31.0, "sky"), to_cm=30.5)
    (result,), _ = judge(Case("x.h5", table_of(text), row, TRUTH), {"windows": load_strategy("windows")})
    assert [one.colour for one in result.taken.slots] == list(TRUTH)
    assert [one.dist_cm is None for one in result.taken.slots] == [False, False, True]


def test_a_colour_read_on_another_leg_is_not_read_at_the_slot_however_far_along_its_leg():
    text = ROW.replace("[[slot]]", '[[leg]]\nname = "out"\n[[leg]]\nname = "back"\nstarts = "reverse"\n[[slot]]', 1)
    slots = {"a": ("out", 10), "b": ("back", 10), "c": ("back", 20)}
    for name, (leg, at_cm) in slots.items():
        old = text[text.index(f'name = "{name}"\nat_cm'):].split("\nwidth", 1)[0]
        text = text.replace(old, f'name = "{name}"\nleg = "{leg}"\nat_cm = {at_cm}')
    course = parse_course(text.replace('name = "hose"', 'name = "hose"\nleg = "back"'))
    readings = [Reading(0, "leaf", READ, row=70, dist_cm=10.0, leg=1, sensor=0)]
    found = explain(course, TRUTH, taken_from(course, readings))
    assert [(one.slot, one.kind) for one in found[:1]] == [("a", FindingKind.OUSTED)]
    assert found[0].numbers["whose"] == "b"
