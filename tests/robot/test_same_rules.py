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
from telemetry.sources.synthetic import simulate_still

from .reading import (
    MICROPYTHON,
    RECORDINGS,
    c_compiler,
    made,
    needs_micropython,
    on_micropython,
    on_the_computer,
    run_words,
    said,
    settled,
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


LATE = b"10,moss,100\n20,moss,100\n!20,gate open\n30,moss,100\n40,none,150\n"


@needs_micropython
@pytest.mark.parametrize("language", ["micropython", "c"])
def test_what_stands_before_the_first_header_is_no_sample(language: str, course: Path, tmp_path: Path) -> None:
    """A listener who joins late understands nothing before a header; without any header, the named columns count."""
    if language == "c" and c_compiler() is None:
        pytest.skip("no C compiler here")
    words = ("first-come", "--course", str(course), "--columns", COLUMNS, "--language", language)
    folder = made(tmp_path / "out", *words)
    program = [MICROPYTHON, folder / "check.py"] if language == "micropython" else [compiled(folder)]
    strategy, field = STRATEGIES["first-come"], load_course(course)
    header = f"#{COLUMNS}\n".encode()
    late = LATE + header + b"50,navy,200\n60,none,250\n"
    wanted = on_the_computer(table_of(late), strategy, field)
    done = run_words(program, late)
    assert [settled(said(done.stdout)), wanted] == [wanted, [(50, "a", "navy")]]
    assert b"4 lines before the first header were left out" in done.stderr
    plain = run_words(program, LATE)
    assert settled(said(plain.stdout)) == on_the_computer(table_of(LATE, COLUMNS), strategy, field) == [(10, "a", "moss")]
    assert b"left out" not in plain.stderr
    # A header that comes after more than is held back: what was read by then stays read.
    long = b"".join(b"%d,none,%d\n" % (10 * k, k) for k in range(1, 9000)) + LATE
    assert settled(said(run_words(program, long).stdout)) == on_the_computer(table_of(long, COLUMNS), strategy, field) != []


def test_ranges_that_nobody_told_are_said(course: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A logic that goes by raw channels rests on their range: without palette and run it is taken for granted, and said."""
    there = ("--course", str(course), "-o", str(tmp_path / "out"), "--force")
    raw = "t/ms,red,green,blue,dist/cm"
    assert main(["reader", "windows", "--columns", raw, *there]) == 0
    assert "Taken for granted: red 4 to 1023, green 4 to 1023, blue 4 to 1023." in capsys.readouterr().out
    assert "taken for granted: red 4 to 1023" in (tmp_path / "out" / "reader.py").read_text(encoding="utf-8")
    assert main(["card", "windows", "--columns", raw, "--course", str(course), "-o", str(tmp_path / "card.html")]) == 0
    assert "Taken for granted" in capsys.readouterr().out
    assert main(["reader", "windows", "--columns", "t/ms,colour,dist/cm", *there]) == 0
    assert "Taken for granted" not in capsys.readouterr().out, "codes have no range"
    palette = tmp_path / "palette.toml"
    stills = []
    for name in ("none", "rust", "leaf"):
        still = tmp_path / f"{name}.txt"
        still.write_bytes(simulate_still(name).data)
        stills.append(f"{name}={still}")
    assert main(["calibrate", *stills, "-o", str(palette)]) == 0
    capsys.readouterr()
    assert main(["reader", "windows", "--columns", raw, "--palette", str(palette), *there]) == 0
    assert "Taken for granted" not in capsys.readouterr().out


def test_a_reading_of_an_unknown_slot_is_named(course: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "run.txt").write_bytes(drive("gate open") + b"!1390,read,shed,moss\n!1390,read,a,moss\n")
    run = tmp_path / "run.h5"
    assert main(["ingest", str(tmp_path / "run.txt"), "-o", str(run), "--course", str(course), "--truth", "moss,empty"]) == 0
    main(["compare", str(run), "--strategy", "map-and-list"])
    said = " ".join(capsys.readouterr().out.split())
    assert "the robot told a reading of 'shed', which is not a slot of this course" in said


def test_a_fault_in_a_logic_of_ones_own_is_said_once(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    own = tmp_path / "ours.py"
    own.write_text("class Ours:\n    def step(self, label, m):\n        return 1 // 0\n", encoding="utf-8")
    runs = [str(RECORDINGS / f"practice-0{number}.h5") for number in (1, 2, 3)]
    assert main(["compare", *runs, "--strategy", str(own), "--strategy", "hold"]) == EXIT_INPUT
    said = capsys.readouterr().err.splitlines()
    assert [line for line in said if "ZeroDivisionError" in line] == said[-1:]
    assert said[-1].startswith("sidelong: not compared (3 runs): ")
