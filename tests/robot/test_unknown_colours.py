"""A colour that neither course nor palette nor the run it was made after knows: the reader says what the computer says."""

from __future__ import annotations

from pathlib import Path

import pytest

from telemetry.course import load_course
from telemetry.reading.strategies import STRATEGIES
from telemetry.robot import emitter

from .reading import (
    MICROPYTHON,
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
name = "fence"
[[slot]]
name = "a"
at_cm = 10
width_cm = 3
colours = ["moss", "navy", "snow"]
[[slot]]
name = "b"
at_cm = 20
width_cm = 3
colours = ["moss", "navy", "snow"]
"""
COLUMNS = "t/ms,colour,dist/mm"


def stream(unknown: str, *, often: int) -> bytes:
    """A drive past two markers; every ``often``th sample near them is called by a name that nobody knows."""
    lines = ["#" + COLUMNS, "#codes,7=none,1=moss,2=navy,8=pink"]
    for k in range(120):
        mm = 2 * k + 20
        near = 1 if abs(mm - 100) <= 15 else 2 if abs(mm - 200) <= 15 else 0
        code = str(near or 7)
        if near and k % often == 0:
            code = unknown
        lines.append(f"{10 * k},{code},{mm}")
    return "\n".join(lines).encode() + b"\n"


STREAMS = [stream(unknown, often=often) for unknown in ("8", "99", "Lemon") for often in (1, 2, 5)]


@pytest.mark.parametrize("name", ["evidence", "enough", "checklist", "hold"])
@needs_micropython
def test_micropython_and_the_computer_say_the_same(name: str, tmp_path: Path) -> None:
    (tmp_path / "course.toml").write_text(COURSE, encoding="utf-8")
    course = load_course(tmp_path / "course.toml")
    folder = made(tmp_path / "py", name, "--course", str(tmp_path / "course.toml"), "--columns", COLUMNS)
    for data in STREAMS:
        assert on_micropython(folder, data) == on_the_computer(table_of(data), STRATEGIES[name], course)


@pytest.mark.skipif(c_compiler() is None, reason="no C compiler here")
@pytest.mark.parametrize("name", ["evidence", "enough"])
def test_c_stays_within_its_tables(name: str, tmp_path: Path) -> None:
    (tmp_path / "course.toml").write_text(COURSE, encoding="utf-8")
    course = load_course(tmp_path / "course.toml")
    words = (name, "--course", str(tmp_path / "course.toml"), "--columns", COLUMNS, "--language", "c")
    check = compiled(made(tmp_path / "c", *words))
    for data in STREAMS:
        done = run_words([check], data)
        assert done.returncode == 0, done.stderr
        assert settled(said(done.stdout)) == on_the_computer(table_of(data), STRATEGIES[name], course)


DRIVES = """
import sys
sys.path.insert(0, sys.argv[1])
from emitter import Emitter
from reader import Reader
now = {}
out = Emitter((("colour", lambda: now["colour"]), ("dist/mm", lambda: now["mm"])), clock=lambda: now["t"], codes=%r)
reader = Reader(out.read)
for line in open(sys.argv[2]):
    t, colour, mm = line.split()
    now.update(t=int(t), mm=int(mm), colour=int(colour) if colour.isdigit() else None if colour == "-" else colour)
    out.sample(reader)
    reader.step()
reader.finish()
"""
CODES = {7: "none", 1: "moss", 2: "navy", 8: "pink"}


@pytest.mark.parametrize("name", ["evidence", "enough", "checklist", "hold", "first-come"])
@needs_micropython
def test_what_drives_reads_unknown_colours_as_the_computer_does(name: str, tmp_path: Path) -> None:
    """The robot's own emitter feeds its reader: a colour that neither knows is a colour there too, not a missing value."""
    (tmp_path / "course.toml").write_text(COURSE, encoding="utf-8")
    course = load_course(tmp_path / "course.toml")
    folder = made(tmp_path / "py", name, "--course", str(tmp_path / "course.toml"), "--columns", COLUMNS)
    (folder / "emitter.py").write_text(Path(emitter.__file__).read_text(encoding="utf-8"), encoding="utf-8")
    program, drive = tmp_path / "drives.py", tmp_path / "drive.txt"
    told = 0
    for codes in (CODES, {}):
        program.write_text(DRIVES % codes, encoding="utf-8")
        for unknown in ("8", "99", "Lemon", "-"):
            for often in (1, 2, 5):
                lines = stream(unknown, often=often).decode().splitlines()[2:]
                text = "\n".join(" ".join(line.split(",")) for line in lines)
                if not codes:  # names then, and numbers that nobody explains
                    text = text.replace(" 7 ", " none ").replace(" 1 ", " moss ").replace(" 2 ", " navy ")
                drive.write_text(text, encoding="utf-8")
                done = run_words([MICROPYTHON, program, folder, drive])
                assert done.returncode == 0, done
                table = table_of(done.stdout)
                assert not table.rejected
                here = [note.text.split(",")[1:] for note in table.notes if note.text.startswith("read,")]
                there = on_the_computer(table, STRATEGIES[name], course)
                told += len(there)
                wanted = sorted((slot, colour) for _, slot, colour in there)
                assert sorted(map(tuple, here)) == wanted, (codes, unknown, often)
    assert told
