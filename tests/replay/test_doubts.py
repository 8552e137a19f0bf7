"""What looks as if columns or names were mistaken is asked about, and a plain run is not."""

from dataclasses import replace
from pathlib import Path

import pytest

from replay.runs import GOOD, drive, row, table_of
from telemetry.course import Course, parse_course
from telemetry.palette_default import default_palette
from telemetry.recording.load import load
from telemetry.replay.doubts import doubts
from telemetry.wording import sentences


def of(text):
    return sentences(doubts(table_of(text), row))


def test_a_plain_run_raises_no_doubt():
    assert of(drive(*GOOD)) == ()


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (drive(*GOOD, header="#t/ms,colour,dist/mm"), "dist covers 3.6 cm, and the course's markers stand up to 30 cm"),
        (drive(to_cm=360, step_cm=5), "from a leg's start: is the unit of dist another (mm, cm, m), or that of at_cm?"),
        (drive(*GOOD, to_cm=120), ""),
        (drive(*GOOD, header="#t/s,colour,dist/cm"), "a sample comes every 10000 ms: is the unit of t right?"),
        (drive(*GOOD, header="#t/ms,colour,dist/m"), "is the unit of dist another (mm, cm, m), or that of at_cm?"),
        (drive(*GOOD, start_ms=500).replace("dist/cm", "refl/%"), ""),
        (drive(*GOOD, to_cm=300).replace("dist/cm", "refl/%"), "refl reaches 300 %: is that column another one"),
        (drive(*GOOD, start_ms=10, header="#n,colour,t/ms"), "lines are lost"),
        (drive((9, 11, "rsut"), *GOOD[1:]), "the robot sends 'rsut', which the course does not have, and never 'rust'"),
    ],
)
def test_what_is_mistaken_is_asked_about(text, says):
    asked = of(text)
    assert any(says in one for one in asked) if says else asked == ()
    assert all(one.isprintable() and one[-1] != "." for one in asked)


def two_legs(starts: str) -> Course:
    return parse_course(f"""[course]
name = "lane and yard"
[[leg]]
name = "lane"
[[leg]]
name = "yard"
starts = "{starts}"
[[group]]
name = "all"
distinct = ["rust", "leaf"]
[[slot]]
name = "tag 1"
leg = "lane"
group = "all"
at_cm = 20
[[slot]]
name = "crate 1"
leg = "yard"
group = "all"
at_cm = 20
""")


def test_a_palette_in_which_two_colours_have_each_others_code_is_asked_about():
    captured = [replace(TYPICAL.colours[0], name=name, codes={code: 1.0})
                for name, code in (("none", "none"), ("rust", "leaf"), ("leaf", "rust"))]  # fmt: skip
    palette = replace(TYPICAL, colours=tuple(captured), measured=True)
    (asked,) = sentences(doubts(table_of(drive(*GOOD)), None, palette))
    assert asked == "when the palette was made, the sensor called leaf 'rust' and rust 'leaf': were they exchanged?"


TYPICAL = default_palette()
FORWARDS = [(n, n) for n in range(30)]


@pytest.mark.parametrize(
    ("starts", "driven", "says"),
    [
        ("reset", FORWARDS, "leg 'yard' begins where dist is set back, and dist never falls"),
        ("reset", [*FORWARDS, *FORWARDS], ""),
        ("reverse", FORWARDS, "leg 'yard' begins where the robot drives backwards, and dist never falls"),
        ("reverse", [*FORWARDS, *reversed(FORWARDS)], ""),
        ("heading:90", FORWARDS, "begins at heading 90 deg, and the nearest that heading comes to is 29 deg"),
        ("heading:-330", FORWARDS, ""),
    ],
)
def test_a_leg_that_cannot_have_begun_is_asked_about(starts, driven, says):
    lines = [f"{20 * t},none,{cm},{deg}" for t, (cm, deg) in enumerate(driven)]
    table = table_of("\n".join(["#t/ms,colour,dist/cm,heading/deg", *lines, ""]))
    asked = [one for one in sentences(doubts(table, two_legs(starts))) if "leg 'yard'" in one]
    assert bool(asked) == bool(says)
    assert all(says in one and one.isprintable() for one in asked)


RUNS = sorted((Path(__file__).parents[2] / "recordings").glob("*.h5"))


@pytest.mark.parametrize("path", RUNS, ids=lambda path: path.stem)
def test_swapped_heading_and_distance_are_asked_about_and_only_they(path):
    """Of every simulated run of the repository, also those that stop, drive back or slip."""
    recording = load(path)
    table, course = recording.table, recording.course
    assert not any("swapped" in one for one in sentences(doubts(table, course)))
    swapped = {"heading": table.columns["dist"], "dist": table.columns["heading"]}
    asked = sentences(doubts(replace(table, columns={**table.columns, **swapped}), course))
    assert [one for one in asked if "are the two columns swapped?" in one]


def test_a_clock_that_is_set_back_is_no_reason_to_stop():
    lines = [f"{t},rust,{t // 20},{t % 3}" for t in (*range(1000, 3000, 20), *range(0, 400, 20))]
    asked = doubts(table_of("\n".join(["#t/ms,colour,dist/cm,heading/deg", *lines, ""])), None)
    assert all(one.kind.value != "heading for dist" for one in asked)
