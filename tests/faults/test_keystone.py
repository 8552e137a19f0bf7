"""Live view is replay of a recording that is still growing: two real processes, one of them killed without warning."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from telemetry.commands.live import reading_line
from telemetry.live.defaults import default_strategy
from telemetry.reading.load import load_strategy
from telemetry.recording.load import load
from telemetry.recording.make import recover
from telemetry.replay.header import palette_for, plan_for
from telemetry.replay.runner import Runner
from telemetry.sources.synthetic.run import built_in_course

SIDELONG = [sys.executable, "-c", "import sys; from telemetry.cli import main; sys.exit(main(sys.argv[1:]))"]
STRATEGIES = ("first-come", "checklist", "evidence")


def start(words: list[str], **options: object) -> subprocess.Popen[str]:
    return subprocess.Popen([*SIDELONG, *words], stdout=subprocess.PIPE, text=True, **options)  # type: ignore[call-overload, no-any-return]


def logged(path: Path) -> list[dict[str, object]]:
    """The whole lines of the log; the last one may be cut by the kill."""
    text = path.read_text(encoding="utf-8") if path.exists() else ""
    return [json.loads(line) for line in text.split("\n")[:-1]]


def replayed(path: Path, strategy: str) -> list[dict[str, object]]:
    run = load(path)
    assert run.course is not None
    runner = Runner(plan_for(load_strategy(strategy), run.course, palette_for(run.table, run.course, None), run.table))
    return [reading_line(strategy, reading, run.course) for reading in [*runner.advance(run.table), *runner.finish()]]


@pytest.mark.parametrize("kill_after", [None, 1, 4, 9])
def test_what_was_read_live_is_a_prefix_of_what_the_recording_replays(tmp_path: Path, kill_after: int | None) -> None:
    (tmp_path / "course.toml").write_text(built_in_course("row").text, encoding="utf-8")
    robot = start(["robot", "--level", "venue", "--seed", "1", "--speed-up", "6", "--link", "tcp"], cwd=tmp_path)
    assert robot.stdout is not None
    port = robot.stdout.readline().strip()
    words = ["capture", port, "-o", "run.h5", "--course", "course.toml", "--log", "log.jsonl"]
    words += [word for name in STRATEGIES for word in ("--strategy", name)]
    capture = start(words, cwd=tmp_path)
    assert capture.stdout is not None
    try:
        if kill_after is not None:
            until = time.monotonic() + 60
            while len(logged(tmp_path / "log.jsonl")) < kill_after and time.monotonic() < until:
                time.sleep(0.005)
            capture.kill()
        capture.stdout.read()
        code = capture.wait(60)
    finally:
        for process in (capture, robot):
            process.kill()
            process.wait()
            process.stdout.close()  # type: ignore[union-attr]
    log = logged(tmp_path / "log.jsonl")
    if kill_after is None:
        assert code == 0
    else:
        (found,) = recover(tmp_path)
        assert found.rows > 0
        assert len(log) >= kill_after
    for strategy in STRATEGIES:
        mine = [line for line in log if line["strategy"] == strategy]
        again = replayed(tmp_path / "run.h5", strategy)
        assert mine == again[: len(mine)]
        assert kill_after is not None or mine == again
    assert [path.name for path in sorted(tmp_path.iterdir())] == ["course.toml", "log.jsonl", "run.h5"]


@pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_a_polite_end_makes_the_recording_at_once(tmp_path: Path, number: signal.Signals) -> None:
    (tmp_path / "course.toml").write_text(built_in_course("row").text, encoding="utf-8")
    words = ["capture", "robot:practice?seed=3&runs=50&speed_up=8", "-o", "run.h5", "--course", "course.toml"]
    capture = start([*words, "--log", "log.jsonl"], cwd=tmp_path)
    assert capture.stdout is not None
    until = time.monotonic() + 60
    while len(logged(tmp_path / "log.jsonl")) < 3 and time.monotonic() < until:
        time.sleep(0.005)
    capture.send_signal(number)
    said = capture.stdout.read()
    assert capture.wait(60) == 0
    capture.stdout.close()
    assert "run.h5: " in said
    assert load(tmp_path / "run.h5").summary.end == "stopped by the user"
    assert logged(tmp_path / "log.jsonl") == replayed(tmp_path / "run.h5", default_strategy(built_in_course()))
