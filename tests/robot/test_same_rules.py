"""What robot and computer share: blanks around a note, an empty slot, a stream without a sample, a folder for a run."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from telemetry.cli import main
from telemetry.course import load_course
from telemetry.errors import EXIT_INPUT
from telemetry.reading.strategies import STRATEGIES
from telemetry.replay.readings import READ, robots_own
from telemetry.sample import Note

from .reading import (
    MICROPYTHON,
    c_compiler,
    made,
    needs_micropython,
    on_micropython,
    on_the_computer,
    run_words,
    table_of,
)
from .test_both_languages import compiled

COURSE = """
[course]
name = "yard"
[[leg]]
name = "lane"
[[leg]]
name = "yard"
starts = "note:gate open"
[[slot]]
name = "a"
leg = "yard"
at_cm = 10
width_cm = 3
colours = ["moss", "navy"]
[[slot]]
name = "b"
leg = "yard"
at_cm = 20
width_cm = 3
colours = ["moss", "navy"]
empty_ok = true
"""
COLUMNS = "t/ms,colour,dist/mm"


@pytest.fixture
def course(tmp_path: Path) -> Path:
    path = tmp_path / "course.toml"
    path.write_text(COURSE, encoding="utf-8")
    return path


def drive(note: str, begin_ms: int = 0) -> bytes:
    """Past a marker and an empty slot, after a note."""
    lines = ["#" + COLUMNS, f"{begin_ms},none,0", f"!{begin_ms},{note}"]
    lines += [f"{begin_ms + 10 * k},{'moss' if 85 <= 2 * k <= 115 else 'none'},{2 * k}" for k in range(1, 140)]
    return "\n".join(lines).encode() + b"\n"


@needs_micropython
@pytest.mark.parametrize("note", ["gate open", " gate open", "gate open ", " gate open  "])
def test_blanks_around_a_note_are_no_part_of_it(note: str, course: Path, tmp_path: Path) -> None:
    data = drive(note)
    (tmp_path / "run.txt").write_bytes(data)
    run = tmp_path / "run.h5"
    assert main(["ingest", str(tmp_path / "run.txt"), "-o", str(run), "--course", str(course), "--truth", "moss,empty"]) == 0
    answer = tmp_path / "answer.json"
    main(["compare", str(run), "--strategy", "map-and-list", "--json", str(answer)])
    assert json.loads(answer.read_text())["runs"][0]["outcome"] != "not applicable"
    folder = made(tmp_path / "py", "map-and-list", "--course", str(course), "--columns", COLUMNS)
    wanted = on_the_computer(table_of(data), STRATEGIES["map-and-list"], load_course(course))
    assert wanted
    assert on_micropython(folder, data) == wanted


def test_an_empty_slot_is_no_missing_one(course: Path, tmp_path: Path) -> None:
    (tmp_path / "run.txt").write_bytes(drive("gate open"))
    run, answer = tmp_path / "run.h5", tmp_path / "answer.json"
    assert main(["ingest", str(tmp_path / "run.txt"), "-o", str(run), "--course", str(course), "--truth", "moss,empty"]) == 0
    main(["compare", str(run), "--strategy", "evidence", "--json", str(answer)])
    one = json.loads(answer.read_text())["runs"][0]
    empty = one["readings"][1]
    assert (one["outcome"], empty["colour"], empty["how"]) == ("right", "empty", "read")
    assert empty["t_ms"] is not None
    main(["compare", str(run), "--strategy", "first-come", "--json", str(answer)])
    open_ = json.loads(answer.read_text())["runs"][0]["readings"][1]
    assert (open_["colour"], open_["how"], open_["t_ms"]) == (None, "missing", None)


def test_the_robots_own_empty_slot_is_read(course: Path) -> None:
    own = robots_own(load_course(course), [Note(3, 1000, 0, "read,b,empty"), Note(3, 1000, 0, "read,a,missing")])
    assert own is not None
    assert [(one.colour, one.how) for one in own.slots] == [(None, "missing"), (None, READ)]


@needs_micropython
def test_no_sample_and_a_restart_are_said(course: Path, tmp_path: Path) -> None:
    folder = made(tmp_path / "py", "map-and-list", "--course", str(course), "--columns", COLUMNS)
    programs = [[MICROPYTHON, folder / "check.py"]]
    if c_compiler() is not None:
        words = ("map-and-list", "--course", str(course), "--columns", COLUMNS, "--language", "c")
        programs.append([compiled(made(tmp_path / "c", *words))])
    for program in programs:
        nothing = run_words(program, b"hello there\n")
        assert nothing.returncode == EXIT_INPUT
        assert b"no sample was understood" in nothing.stderr
        twice = run_words(program, drive("gate open", 5000) + drive("gate open"))
        assert twice.returncode == 0
        assert b"restarted" in twice.stderr
        assert b"restarted" not in run_words(program, drive("gate open")).stderr


@pytest.mark.parametrize("command", ["reader", "recipe", "card"])
def test_a_folder_is_no_run(command: str, course: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = [command, "checklist", "--course", str(course), "--like", str(tmp_path), "-o", str(tmp_path / "out.html")]
    assert main(words) == EXIT_INPUT
    assert "this is a folder" in capsys.readouterr().err
