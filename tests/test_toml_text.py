"""What people type by hand into TOML: the usual slips are answered with what to type instead."""

from __future__ import annotations

import pytest

from telemetry.course import parse_course
from telemetry.errors import CourseError, PaletteError, SidelongError, StrategyError
from telemetry.file_kind import kind_of
from telemetry.palette_file import palette_from
from telemetry.reading.load import load_strategy
from telemetry.toml_text import TomlError, read_toml

SLIPS = [
    ("name = “Row”", "line 2 has a quotation mark “", 'in a plain text editor: name = "Row"'),
    ("name = „Row“  # ours", "line 2 has a quotation mark „", 'name = "Row"'),
    ("name = «Row»", "line 2 has a quotation mark «", 'name = "Row"'),
    ("name = ‘Row’", "line 2 has a quotation mark ‘", 'name = "Row"'),
    ('name = "Row”', "line 2 has a quotation mark ”", 'name = "Row"'),
    ("“name” = 3", "line 2 has a quotation mark “", '"name" = 3'),
    ("at_cm = 9,5", "line 2 has a decimal comma", "Type a point: at_cm = 9.5"),
    ("ahead_cm = -4,25   # in front", "line 2 has a decimal comma", "Type a point: ahead_cm = -4.25"),
    ("name = Orchard Row", "line 2 has a text without quotes", 'Type name = "Orchard Row"'),
    ("unseen = True", "line 2 has True", "Type small letters: unseen = true"),
    ("unseen = FALSE # no", "line 2 has FALSE", "Type small letters: unseen = false"),
]


@pytest.mark.parametrize(("line", "what", "todo"), SLIPS)
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_a_slip_is_answered_with_what_to_type(line, what, todo, end):
    with pytest.raises(TomlError) as found:
        read_toml(f"[course]{end}{line}{end}other = 1{end}")
    assert found.value.what.startswith(what)
    assert found.value.todo.endswith(todo)


@pytest.mark.parametrize("line", [line for line, _, todo in SLIPS if "Type" in todo or "name" in todo])
def test_what_it_says_to_type_is_toml(line):
    with pytest.raises(TomlError) as found:
        read_toml(line)
    typed = found.value.todo.split("Type ", 1)[1]
    read_toml(typed.rpartition(": ")[2] if ": " in typed else typed)


@pytest.mark.parametrize("text", [
    'name = "he said “now”"', "name = 'don’t'", "at_cm = [9,5]", 'name = "9,5"', "x = 1  # “so”", "at_cm = nan", "x = inf",
])  # fmt: skip
def test_what_is_toml_is_left_alone(text):
    assert read_toml(text)


@pytest.mark.parametrize(
    "text", ["a = [", "= 3", "[[x]", "a = 1\na = 2", "a = " + "9" * 5000, "a = " + "[" * 5000, "x", "{"]
)
def test_other_faults_keep_the_parsers_words(text):
    with pytest.raises(TomlError) as found:
        read_toml(text)
    assert found.value.what[:1].islower()
    assert found.value.todo == ""


def test_every_kind_of_file_says_it(tmp_path):
    ours = tmp_path / "ours.toml"
    ours.write_text("[[stage]]\nuse = “hold”\n", encoding="utf-8")
    for error, read in (
        (CourseError, lambda: parse_course("[course]\nname = “Row”", "row.toml")),
        (PaletteError, lambda: palette_from("version = 1,5", "p.toml")),
        (StrategyError, lambda: load_strategy(str(ours))),
        (SidelongError, lambda: kind_of("x = 1,5", "x.toml")),
    ):
        with pytest.raises(error, match=r"is not valid TOML: line \d has a .*Type "):
            read()
