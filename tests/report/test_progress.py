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
    assert before.endswith(f"\r{' ' * 70}\r"), "the line of progress was taken away first"
    assert said.count("it is damaged") == 3


def test_journals_without_a_record_are_counted_too(tmp_path: Path) -> None:
    for name in ("a", "b"):
        (tmp_path / f"{name}.h5{SUFFIX}").write_bytes(bytes(1000))
    told: list[float] = []
    recover(tmp_path, progress=told.append)
    assert told == [0.5, 1.0]
