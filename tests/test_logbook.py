"""A failure leaves its trace in a file that the message names; a log that cannot be written stops nothing."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from pathlib import Path

import pytest
from replay.runs import GOOD, drive, record

from telemetry import cli, logbook
from telemetry.replay import judge as judging


@pytest.fixture(autouse=True)
def _as_before(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[None]:
    monkeypatch.setenv("SIDELONG_LOG", str(tmp_path / "logs" / "sidelong.log"))
    yield
    for name in ("telemetry", "gui"):
        logger = logging.getLogger(name)
        logger.handlers = [one for one in logger.handlers if not isinstance(one, logbook._Quiet)]
        logger.propagate = True


def test_it_turns_over_and_keeps_few_files(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(logbook, "MOST_BYTES", 400)
    logbook.begin_log()
    logbook.begin_log()
    for number in range(40):
        logging.getLogger("telemetry.somewhere").info("message %d", number)
    files = sorted(one.name for one in logbook.log_path().parent.iterdir())
    assert files == ["sidelong.log", "sidelong.log.1", "sidelong.log.2"]
    text = logbook.log_path().read_text(encoding="utf-8")
    assert text.count("message 39") == 1


def test_where_it_cannot_be_written_nothing_stops(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys) -> None:
    (tmp_path / "file").write_text("in the way")
    monkeypatch.setenv("SIDELONG_LOG", str(tmp_path / "file" / "sidelong.log"))
    logbook.begin_log()
    logging.getLogger("telemetry").error("lost")
    assert capsys.readouterr() == ("", "")


def test_a_fault_names_the_file_that_has_its_trace(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys) -> None:
    path = record(tmp_path / "a.h5", drive(*GOOD))
    monkeypatch.setattr("telemetry.replay.compare.compare", lambda *_a, **_k: 1 // 0)
    assert cli.main(["compare", str(path)]) == 70
    said = capsys.readouterr().err
    assert str(logbook.log_path()) in said
    assert "ZeroDivisionError" in logbook.log_path().read_text(encoding="utf-8")


def test_one_runs_fault_leaves_its_trace(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys) -> None:
    paths = [record(tmp_path / f"{name}.h5", drive(*GOOD)) for name in "ab"]
    monkeypatch.setattr(judging, "longest_stretch", lambda _table: 1 // 0)
    assert cli.main(["compare", *map(str, paths)]) == 3
    assert "fault in Sidelong itself" in capsys.readouterr().err
    assert "could not be judged" in logbook.log_path().read_text(encoding="utf-8")
