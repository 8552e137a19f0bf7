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
    on_micropython,
    on_the_computer,
    rows_text,
    run_words,
    said,
    settled,
)

COLUMNS = "n,t/ms,colour,refl/%,red,green,blue,heading/deg,dist/cm"
TEXT_COLUMNS = "t/ms,colour,dist/cm,refl/%,heading/deg"
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
        assert on_micropython(python, data) == wanted, seed
        done = run_words([check], data)
        assert done.returncode == 0, done
        assert settled(said(done.stdout)) == wanted, seed
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
