"""Courses: every key checked, impossible ones refused with their reason."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from telemetry.course import GroupRule, LegStart, load_course, parse_course
from telemetry.errors import CourseError

ORCHARD = """
[course]
name = "Orchard Row"

[[sensor]]
name = "side"
ahead_cm = 4.5

[[leg]]
name = "lane"
starts = "begin"

[[leg]]
name = "yard"
starts = "note:gate open"
heading_deg = 90
heading_tol_deg = 20

[[slot]]
name = "tag 1"
leg = "lane"
sensor = "side"
at_cm = 9.0
width_cm = 2.4
group = "tags"

[[slot]]
name = "tag 2"
leg = "lane"
at_cm = 21.5
width_cm = 2.4
group = "tags"

[[slot]]
name = "crate 1"
leg = "yard"
at_cm = 14.0
width_cm = 5.0
group = "crates"

[[slot]]
name = "crate 2"
leg = "yard"
group = "crates"
unseen = true

[[group]]
name = "tags"
distinct = ["rust", "leaf", "sky"]

[[group]]
name = "crates"
one_of_each = ["rust", "pink"]

[[decoy]]
name = "hose"
leg = "yard"
at_cm = 40.0
width_cm = 1.5

[score]
right = 10
wrong = -5
missing = 0
"""
SMALL = '[course]\nname = "x"\n[[slot]]\nname = "a"\n'


def test_the_documented_example():
    course = parse_course(ORCHARD)
    assert course.name == "Orchard Row"
    assert [leg.starts for leg in course.legs] == [LegStart.BEGIN, LegStart.NOTE]
    assert course.legs[1].starts_note == "gate open"
    assert (course.legs[1].heading_deg, course.legs[1].heading_tol_deg) == (90.0, 20.0)
    assert course.sensors[0].ahead_cm == 4.5
    assert [slot.leg for slot in course.slots] == [0, 0, 1, 1]
    assert [group.rule for group in course.groups] == [GroupRule.DISTINCT, GroupRule.ONE_OF_EACH]
    assert course.groups[1].counts == (1, 1)
    assert course.slots[3].unseen
    assert course.slots[3].at_cm is None
    assert course.decoys[0].name == "hose"
    assert course.points is not None
    assert course.points.wrong == -5
    assert course.colours == ("rust", "leaf", "sky", "pink")
    assert course.text == ORCHARD


def test_the_shortest_course():
    course = parse_course(SMALL + 'colours = ["red", "green"]\n')
    assert (len(course.legs), len(course.sensors), course.sensors[0].ahead_cm) == (1, 1, 0.0)
    assert course.groups[0].rule is GroupRule.ANY
    assert course.points is None


def test_counts():
    text = '[course]\nname="x"\n[[group]]\nname="g"\ncounts={red=2, blue=1}\n'
    text += "".join(f'[[slot]]\nname="s{i}"\ngroup="g"\n' for i in range(3))
    assert parse_course(text).groups[0].counts == (2, 1)


def test_a_decoy_without_sensor_is_passed_by_all():
    text = ORCHARD.replace("[[leg]]", '[[sensor]]\nname = "front"\n[[leg]]', 1).replace(
        'at_cm = 21.5', 'sensor = "side"\nat_cm = 21.5'
    )
    text = text.replace('leg = "yard"\nat_cm = 14.0', 'leg = "yard"\nsensor = "front"\nat_cm = 14.0')
    text = text.replace('group = "crates"\nunseen', 'group = "crates"\nsensor = "front"\nunseen')
    assert [decoy.sensor for decoy in parse_course(text).decoys] == [0, 1]


@pytest.mark.parametrize(
    ("start", "expected"),
    [
        ("note: go on ", (LegStart.NOTE, "go on", 0.0)),
        ("note:a:b", (LegStart.NOTE, "a:b", 0.0)),
        ("heading:-90", (LegStart.HEADING, "", -90.0)),
        ("reset", (LegStart.RESET, "", 0.0)),
        ("reverse", (LegStart.REVERSE, "", 0.0)),
    ],
)
def test_how_a_leg_starts(start, expected):
    leg = parse_course(ORCHARD.replace("note:gate open", start)).legs[1]
    assert (leg.starts, leg.starts_note, leg.starts_heading_deg) == expected


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        # spelling
        ("[[slot]]", "[[slots]]", "unknown key 'slots'. Did you mean 'slot'?"),
        ("at_cm = 9.0", "at = 9.0", "slot 'tag 1': unknown key 'at'. Did you mean 'at_cm'?"),
        ("ahead_cm", "ahed_cm", "sensor 'side': unknown key 'ahed_cm'. Did you mean 'ahead_cm'?"),
        ("one_of_each", "one_of_eech", "Did you mean 'one_of_each'?"),
        ('leg = "yard"\nat_cm = 14.0', 'leg = "yrad"\nat_cm = 14.0', "there is no leg 'yrad'. Did you mean 'yard'?"),
        ('sensor = "side"', 'sensor = "sied"', "there is no sensor 'sied'. Did you mean 'side'?"),
        ('group = "tags"', 'group = "tgas"', "there is no group 'tgas'. Did you mean 'tags'?"),
        ("note:gate open", "nite:gate open", "'starts' is \"nite:gate open\""),
        ("note:gate open", "note:", "It is one of begin, note:TEXT"),
        ("note:gate open", "reset:5", "It is one of begin, note:TEXT"),
        ("note:gate open", "heading:west", "After heading: comes a number of degrees."),
        ("note:gate open", "heading:nan", "After heading: comes a number of degrees."),
        ("note:gate open", "begin", "another leg comes before it"),
        ("right = 10", "rihgt = 10", "[score]: unknown key 'rihgt'. Did you mean 'right'?"),
        ("right = 10\n", "", "'right' is missing"),
        # kinds
        ("at_cm = 9.0", 'at_cm = "9"', "'at_cm' must be a number, not a text"),
        ("at_cm = 9.0", "at_cm = true", "'at_cm' must be a number, not true or false"),
        ("at_cm = 9.0", "at_cm = nan", "'at_cm' is nan"),
        ("at_cm = 9.0", "at_cm = inf", "'at_cm' is inf"),
        ("width_cm = 5.0", "width_cm = 0", "'width_cm' is 0"),
        ("width_cm = 5.0", "width_cm = -1", "'width_cm' is -1"),
        ("unseen = true", "unseen = 1", "'unseen' must be true or false, not a number"),
        ("heading_tol_deg = 20", "heading_tol_deg = 200", "'heading_tol_deg' is 200"),
        ("heading_deg = 90\n", "", "'heading_tol_deg' is given without a 'heading_deg'"),
        ('name = "tag 1"', "name = 1", "slot 1: 'name' must be a text in quotes, not a number"),
        ('name = "tag 1"\n', "", "slot 1: 'name' is missing"),
        ('name = "tag 1"', 'name = "tag,1"', "the name 'tag,1' holds ','"),
        ('name = "tag 1"', 'name = "tag=1"', "the name 'tag=1' holds '='"),
        ('name = "tag 1"', 'name = "tag\\u001b1"', "cannot be printed"),
        ('distinct = ["rust", "leaf", "sky"]', 'distinct = "rust"', "must be a list of colours"),
        ('distinct = ["rust", "leaf", "sky"]', "distinct = []", "names no colour"),
        ('distinct = ["rust", "leaf", "sky"]', "distinct = [1, 2]", "holds 1, which is not a colour's name"),
        ("[[slot]]", "[slot]", "'slot' must be written as [[slot]]"),
        ('one_of_each = ["rust", "pink"]', "counts = {rust = 0, pink = 2}", "gives rust = 0"),
        ('one_of_each = ["rust", "pink"]', "counts = [1]", "must be a table such as"),
        ("[score]", "[[score]]", "[score]: must be a table, not a list"),
        ('[course]\nname = "Orchard Row"', "", "there is no [course]"),
        ('[[decoy]]\nname = "hose"', '[decoy]\nname = "hose"', "must be written as [[decoy]]"),
        # names
        ('name = "tag 2"', 'name = "tag 1"', "there are 2 slots called 'tag 1'. Names must differ."),
        ('name = "yard"', 'name = "lane"', "there are 2 legs called 'lane'"),
        ('name = "crates"\none', 'name = "tags"\none', "there are 2 groups called 'tags'"),
        ('"leaf"', '"rust"', "'distinct' names rust twice"),
        ('"leaf"', '"none"', "a colour cannot be called 'none'. This word says that no colour is seen."),
        ('"leaf"', '"Empty"', "a colour cannot be called 'Empty'. This word says that nothing stands there."),
        ('"leaf"', '"9"', "a colour cannot be called '9'"),
        ('"leaf"', '"a,b"', "a colour cannot be called 'a,b'"),
        ('["rust", "pink"]', '["Rust", "pink"]', "'rust' and 'Rust' differ only in capitals"),
        # impossible
        ("at_cm = 21.5", "at_cm = 11.0", "overlaps slot 'tag 1': their centres are 2 cm apart, their widths need 2.4 cm"),
        ("at_cm = 21.5", "at_cm = 9.0", "overlaps slot 'tag 1': their centres are 0 cm apart"),
        ("at_cm = 40.0", "at_cm = 12.0", "decoy 'hose': overlaps slot 'crate 1'"),
        ("at_cm = 9.0", "at_cm = 25.0", "slot 'tag 2': is at 21.5 cm, but comes after 'tag 1' at 25 cm"),
        ('leg = "lane"\nsensor', 'leg = "yard"\nsensor', "its leg 'lane' is driven before 'yard'"),
        ("at_cm = 9.0", "at_cm = -1", "before the place where its sensor starts"),
        ('["rust", "leaf", "sky"]', '["rust"]', "has 2 slots but only 1 colours, and no colour may come twice"),
        ('["rust", "pink"]', '["rust", "pink", "sky"]', "has 2 slots but 3 colours. One of each needs as many slots"),
        ('["rust", "pink"]', '["rust"]', "has 2 slots but 1 colours. One of each needs as many colours"),
        ('one_of_each = ["rust", "pink"]', "counts = {rust = 2, pink = 1}", "its counts add up to 3, but it has 2 slots"),
        ('one_of_each = ["rust", "pink"]', 'distinct = ["rust", "pink", "sky"]', "is unseen, but nothing tells its colour"),
        ('one_of_each = ["rust", "pink"]', 'distinct = ["rust", "pink"]', "write one_of_each instead of distinct"),
        ("width_cm = 5.0\n", "unseen = true\n", "their colours never follow"),
        ('one_of_each = ["rust", "pink"]', "", "has no rule"),
        ('distinct = ["rust', 'counts = {rust = 2}\ndistinct = ["rust', "has 2 rules"),
        ('group = "crates"\nunseen = true', "unseen = true", "has neither a group nor colours"),
        ('group = "crates"\nunseen', 'group = "crates"\ncolours = ["rust"]\nunseen', "has both a group and colours"),
        ('group = "tags"', 'colours = ["rust"]', "group 'tags': no slot belongs to it"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_said(old, new, message):
    assert old in ORCHARD
    with pytest.raises(CourseError) as caught:
        parse_course(ORCHARD.replace(old, new), "row.toml")
    assert message in str(caught.value)
    assert str(caught.value).startswith("row.toml")
    assert "\n" not in str(caught.value)


def test_unseen_where_a_slot_may_be_empty():
    text = ORCHARD.replace("width_cm = 5.0", "empty_ok = true").replace('["rust", "pink"]', '["rust"]')
    with pytest.raises(CourseError, match="may be empty"):
        parse_course(text)


def test_sensors_must_be_named_where_there_are_several():
    text = ORCHARD.replace("[[leg]]", '[[sensor]]\nname = "front"\n[[leg]]', 1)
    with pytest.raises(CourseError, match=r"slot 'tag 2': 'sensor' is missing\. .*: side, front"):
        parse_course(text)


def test_at_most_29_colours():
    names = [f"c{i}" for i in range(30)]
    parse_course(SMALL + f"colours = {names[:29]}")
    with pytest.raises(CourseError, match="At most 29"):
        parse_course(SMALL + f"colours = {names}")
    both = SMALL + f'colours = {names[:20]}\n[[slot]]\nname = "b"\ncolours = {names[15:]}\n'
    with pytest.raises(CourseError, match="names 30 colours"):
        parse_course(both)


def test_at_most_255_slots():
    # One more would be taken for a reading beyond the slots.
    slots = [f'[[slot]]\nname = "s{i}"\ncolours = ["rust"]\n' for i in range(256)]
    assert len(parse_course('[course]\nname = "x"\n' + "".join(slots[:255])).slots) == 255
    with pytest.raises(CourseError, match=r"has 256 slots\. At most 255"):
        parse_course('[course]\nname = "x"\n' + "".join(slots))


def test_names_that_flood_every_table():
    with pytest.raises(CourseError, match=r"'name' has 81 characters \('xxxxxxxxxxxxxxxxxxxx\.\.\.'\)\. At most 80"):
        parse_course(ORCHARD.replace("tag 1", "x" * 81))
    with pytest.raises(CourseError, match=r"the colour 'xxxxxxxxxxxxxxxxxxxx\.\.\.' has 81 characters"):
        parse_course(SMALL + f'colours = ["{"x" * 81}"]')


def test_markers_may_touch():
    parse_course(ORCHARD.replace("at_cm = 21.5", "at_cm = 11.4"))


def test_no_slots():
    with pytest.raises(CourseError, match=r"there is no \[\[slot\]\]"):
        parse_course('[course]\nname = "x"')


def test_toml_errors_name_the_line():
    with pytest.raises(CourseError, match=r"row.toml: is not valid TOML: .*line 2, column 8"):
        parse_course("[course]\nname = \nx = 1\n", "row.toml")


def test_files(tmp_path: Path):
    path = tmp_path / "row.toml"
    with pytest.raises(CourseError, match="there is no such file"):
        load_course(path)
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(CourseError, match="not a text in UTF-8"):
        load_course(path)
    with pytest.raises(CourseError, match="cannot be read"):
        load_course(tmp_path)
    path.write_bytes(b"\xef\xbb\xbf" + ORCHARD.replace("\n", "\r\n").encode())
    assert load_course(path).slots[0].name == "tag 1"


KEYS = st.sampled_from(["course", "sensor", "leg", "slot", "group", "decoy", "score", "name", "at_cm", "starts", "x"])
VALUES = st.recursive(
    st.one_of(st.booleans(), st.integers(-99, 99), st.floats(allow_nan=True), st.text("ab,=\n\x1b", max_size=3)),
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(KEYS, inner, max_size=4)),
    max_leaves=12,
)


def as_toml(value):
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return '"' + "".join(f"\\u{ord(one):04x}" for one in value) + '"'
    if isinstance(value, list):
        return "[" + ", ".join(map(as_toml, value)) + "]"
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key} = {as_toml(one)}" for key, one in value.items()) + "}"
    return repr(value)


@given(st.dictionaries(KEYS, VALUES, max_size=6))
def test_any_toml_is_a_course_or_one_clear_error(tables):
    text = "".join(f"{key} = {as_toml(value)}\n" for key, value in tables.items())
    try:
        parse_course(text, "x.toml")
    except CourseError as error:
        said = str(error)
    else:
        said = "x.toml is fine"
    assert said.startswith("x.toml")
    assert said.isprintable()


@given(st.text(max_size=200))
def test_any_text_is_a_course_or_one_clear_error(text):
    with pytest.raises(CourseError):
        parse_course(text, "x.toml")
