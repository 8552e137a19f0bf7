"""MicroPython and compiled C beside the core, on random runs: readings, times and confidences, bit for bit."""

from __future__ import annotations

from pathlib import Path

import pytest

from telemetry.course import Course, load_course
from telemetry.reading.strategies import STRATEGIES
from telemetry.recording.load import load
from telemetry.robot.order import order_for_columns

from .random_streams import rows_of, text_of
from .reading import (
    EVENTS_C,
    EVENTS_PY,
    MICROPYTHON,
    RECORDINGS,
    SANITIZED,
    as_recorded,
    c_compiler,
    events_in,
    events_said,
    made,
    needs_micropython,
    on_the_computer,
    rows_text,
    run_words,
    said,
    settled,
)

COLUMNS = "n,t/ms,colour,refl/%,red,green,blue,heading/deg,dist/cm"
TEXT_COLUMNS = "t/ms,colour,dist/cm,refl/%,heading/deg"
HEADER = f"#{TEXT_COLUMNS}\n".encode()
ODD = [
    b"\n", b"\r\n\r\n", b"#", b"!", b"*", b"#\n!\n*00\n", b"\xff\xfe\n", b"\xef\xbb\xbf" + HEADER + b"1,rust,5,,\n",
    b"x" * 100_000,
    HEADER * 3, HEADER + b"1,rust,5,,", HEADER + b"1,rust,5,,\r", b"\0" * 300, HEADER + b"1,\xc3\xa4pfel,5,,\n2,none,6,,\n",
    HEADER + b"1e9,rust,5,,\n1e300,rust,5,,\n-1,rust,1e40,,\n", HEADER + b"1,9999999999,5,,\n2,999999999,5,,\n3,-7,5,,\n",
    HEADER + b"".join(b"%d,new %d,5,,\n" % (k, k) for k in range(60)), b"1;rust;1,5;;\n2;none;9;;\n",
    b"1 rust 5 50 0\n" * 9000, HEADER + "1,\u202ex,5,,\n2,\u2003rust\u2003,5,,\n".encode(),
    HEADER + b"#wrap,t=100\n" + b"".join(b"%d,rust,%d,,\n" % (k % 100, k) for k in range(0, 400, 7)),
    HEADER + b"#codes,1=none,2=rust,3=\n2,2,5,,\n#codes,2=leaf\n3,2,6,,\n",
    HEADER + b"!5,gate open\n!6,gate open \n" * 300 + b"1,rust,5,,\n",
    HEADER + b"5,rust,1,,\n4,rust,2,,\n3,rust,3,,\n9,rust,4,,\n", b"#t/h,colour\n1,rust\n", b"#colour\nrust\n" + HEADER,
]  # fmt: skip
"""Streams that nobody sends on purpose."""
ROWS = 25
TEXTS = 12
needs_c = pytest.mark.skipif(c_compiler() is None, reason="no C compiler here")


@pytest.fixture(scope="module")
def orchard(tmp_path_factory: pytest.TempPathFactory) -> Path:
    course = load(RECORDINGS / "practice-01.h5").course
    assert course is not None
    path = tmp_path_factory.mktemp("course") / "course.toml"
    path.write_text(course.text, encoding="utf-8")
    return path


def compiled(folder: Path, *more: str) -> Path:
    """The check program of a C reader, watched by the sanitizers."""
    compiler = c_compiler()
    assert compiler is not None
    done = run_words([compiler, *SANITIZED, *more, *sorted(folder.glob("*.c")), "-o", folder / "check"])
    assert done.returncode == 0, done.stderr.decode()
    return folder / "check"


@needs_micropython
@pytest.mark.parametrize("name", STRATEGIES)
def test_micropython_decides_the_same(name: str, orchard: Path, tmp_path: Path) -> None:
    folder = made(tmp_path / name, name, "--course", str(orchard), "--columns", COLUMNS)
    plan = order_for_columns(STRATEGIES[name], load_course(orchard), COLUMNS).plan
    streams = [rows_of(plan, seed) for seed in range(ROWS)]
    harness = tmp_path / "events.py"
    harness.write_text(EVENTS_PY)
    done = run_words([MICROPYTHON, harness, folder], rows_text(streams))
    assert done.returncode == 0, done
    assert events_said(done.stdout) == [events_in(plan, stream) for stream in streams]


@needs_c
@pytest.mark.parametrize("name", STRATEGIES)
def test_c_decides_the_same(name: str, orchard: Path, tmp_path: Path) -> None:
    course = load_course(orchard)
    folder = made(tmp_path / name, name, "--course", str(orchard), "--columns", COLUMNS, "--language", "c")
    plan = order_for_columns(STRATEGIES[name], course, COLUMNS).plan
    streams = [rows_of(plan, seed) for seed in range(ROWS)]
    check = compiled(folder)
    done = run_words([check])
    assert done.returncode == 0, done
    assert done.stdout.startswith(b"same as on the computer")
    (folder / "check.c").write_text(EVENTS_C)
    done = run_words([compiled(folder)], rows_text(streams))
    assert done.returncode == 0, done
    assert events_said(done.stdout) == [events_in(plan, stream) for stream in streams]


@needs_c
@needs_micropython
@pytest.mark.parametrize("name", ["first-come", "checklist", "map-and-list"])
def test_both_understand_every_stream_alike(name: str, orchard: Path, tmp_path: Path) -> None:
    course, strategy = load_course(orchard), STRATEGIES[name]
    python = made(tmp_path / "py", name, "--course", str(orchard), "--columns", TEXT_COLUMNS)
    check = compiled(made(tmp_path / "c", name, "--course", str(orchard), "--columns", TEXT_COLUMNS, "--language", "c"))
    some = 0
    for seed in range(TEXTS):
        data = text_of(course, seed)
        wanted = on_the_computer(as_recorded(data, TEXT_COLUMNS), strategy, course)
        some += bool(wanted)
        done = run_words([check], data)
        assert done.returncode == 0, done
        assert settled(said(done.stdout)) == wanted, seed
        beside = run_words([MICROPYTHON, python / "check.py"], data)
        told = [(one.returncode, one.stdout, one.stderr) for one in (done, beside)]
        assert told[0] == told[1], "the same words too, on both ways out"
    for odd in ODD:
        ways = run_words([check], odd), run_words([MICROPYTHON, python / "check.py"], odd)
        told = [(one.returncode, one.stdout, one.stderr) for one in ways]
        assert told[0] == told[1], odd[:80]
    assert some > TEXTS // 2


@needs_c
def test_two_sensors_and_a_leg_driven_backwards_in_c(tmp_path: Path) -> None:
    for number, (run, name) in enumerate((
        ("venue-two-sensors-22.h5", "checklist"), ("venue-reversing-21.h5", "map-and-list"),
        ("practice-stopping-24.h5", "stand-and-look"), ("venue-two-sensors-22.h5", "evidence"),
    )):  # fmt: skip
        recording = load(RECORDINGS / run)
        course: Course | None = recording.course
        assert course is not None
        folder = made(tmp_path / str(number), name, "--like", str(RECORDINGS / run), "--language", "c")
        done = run_words([compiled(folder)], b"".join(piece for _, piece in recording.raw()))
        assert done.returncode == 0, done
        wanted = on_the_computer(recording.table, STRATEGIES[name], course, None, recording.meta.palette)
        assert wanted
        assert settled(said(done.stdout)) == wanted
