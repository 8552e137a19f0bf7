"""A colour that neither course nor palette nor the run it was made after knows: the reader says what the computer says."""

from __future__ import annotations

from pathlib import Path

import pytest

from telemetry.course import load_course
from telemetry.reading.strategies import STRATEGIES

from .reading import c_compiler, made, needs_micropython, on_micropython, on_the_computer, run_words, said, settled, table_of
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
