"""Whatever fails in a row, a terminal shows that the work goes on, and what does well is not mixed up with it."""

from __future__ import annotations

import io
from pathlib import Path

import pytest

from telemetry.commands.one_by_one import one_by_one
from telemetry.errors import EXIT_INPUT, RecordingError
from telemetry.recording.journal.records import SUFFIX
from telemetry.recording.make import recover
from telemetry.report import progress


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_files_that_fail_are_counted_while_they_do(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal, now = Terminal(), iter(range(1000))
    monkeypatch.setattr("sys.stderr", terminal)
    plain = progress.progress_line
    monkeypatch.setattr(progress, "progress_line", lambda *given: plain(*given, clock=lambda: next(now)))

    def does(path: Path) -> None:
        if path.name == "good":
            print("good is done", file=terminal)
        else:
            raise RecordingError("it is damaged", where=str(path))

    names = ["a", "b", "good", "c"]
    assert one_by_one([Path(name) for name in names], does) == EXIT_INPUT
    said = terminal.getvalue()
    assert "read 1 of 4" in said
    before = said[: said.index("good is done")]
    assert before.endswith(f"\r{' ' * 78}\r"), "the line of progress was taken away first"
    assert said.count("it is damaged") == 3


def test_without_a_terminal_a_line_comes_every_ten_seconds(monkeypatch: pytest.MonkeyPatch) -> None:
    log, now = io.StringIO(), [1000.0]
    monkeypatch.setattr("sys.stderr", log)
    monkeypatch.setitem(progress._told, "at", 0.0)
    tell = progress.progress_line("settings swept", 100, clock=lambda: now[0])
    for done in range(1, 101):
        now[0] += 0.5
        tell(done)
    assert log.getvalue().splitlines() == [
        "settings swept 20 of 100, about 40 s left", "settings swept 40 of 100, about 30 s left",
        "settings swept 60 of 100, about 20 s left", "settings swept 80 of 100, about 10 s left",
    ]  # fmt: skip


def test_quiet_is_quiet_in_a_log_too(monkeypatch: pytest.MonkeyPatch) -> None:
    log, now = io.StringIO(), iter(range(0, 100_000, 20))
    monkeypatch.setattr("sys.stderr", log)
    monkeypatch.setitem(progress._wanted, "progress", False)
    progress.say_at_the_start("this takes a minute")
    tell = progress.progress_line("read", 50, clock=lambda: float(next(now)))
    for done in range(50):
        tell(done)
    assert not log.getvalue()


def test_journals_without_a_record_are_counted_too(tmp_path: Path) -> None:
    for name in ("a", "b"):
        (tmp_path / f"{name}.h5{SUFFIX}").write_bytes(bytes(1000))
    told: list[float] = []
    recover(tmp_path, progress=told.append)
    assert told == [0.5, 1.0]
