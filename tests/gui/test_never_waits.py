"""The window waits for no file: what is long, unknown or damaged, and what is taken in, is read on other threads."""

from __future__ import annotations

import shutil
import threading
from pathlib import Path
from typing import Any

import pytest

from gui.model import ingesting
from gui.opening import open_paths
from gui.window import Window
from telemetry.recording.hdf5 import expendable
from telemetry.sources.synthetic import simulate

SAMPLES = Path(__file__).parents[2] / "recordings"


@pytest.fixture
def waits(monkeypatch: pytest.MonkeyPatch) -> list[threading.Thread]:
    """The threads that have waited for the process that reads unknown files."""
    found: list[threading.Thread] = []
    plain = expendable.TrialReader._answer

    def noted(self: expendable.TrialReader, path: Path) -> Any:
        found.append(threading.current_thread())
        return plain(self, path)

    monkeypatch.setattr(expendable.TrialReader, "_answer", noted)
    return found


def test_a_run_that_nobody_has_read_is_opened_while_the_window_goes_on(
    stocked: Window, qtbot: Any, tmp_path: Path, waits: list[threading.Thread]
) -> None:
    other = tmp_path / "of others.h5"
    shutil.copy(SAMPLES / "venue-01.h5", other)
    runs: Any = stocked.place
    open_paths(stocked.workspace, [str(other)])
    qtbot.waitUntil(lambda: runs.view is not None, timeout=30_000)
    assert runs.view.run.path == other
    assert waits
    assert threading.main_thread() not in waits


def test_a_damaged_one_is_told_while_the_window_goes_on(
    stocked: Window, qtbot: Any, tmp_path: Path, waits: list[threading.Thread]
) -> None:
    other = tmp_path / "damaged.h5"
    other.write_bytes((SAMPLES / "venue-01.h5").read_bytes()[:9000])
    open_paths(stocked.workspace, [str(other)])
    qtbot.waitUntil(lambda: "damaged.h5" in stocked.message_bar.text, timeout=30_000)
    assert waits
    assert threading.main_thread() not in waits


def test_two_of_them_side_by_side_too(
    stocked: Window, qtbot: Any, tmp_path: Path, waits: list[threading.Thread], monkeypatch: pytest.MonkeyPatch
) -> None:
    others = [tmp_path / f"{number}.h5" for number in range(2)]
    for other in others:
        shutil.copy(SAMPLES / "venue-01.h5", other)
    runs: Any = stocked.place
    monkeypatch.setattr(runs.table, "chosen", lambda: others)
    runs.open_pair()
    qtbot.waitUntil(lambda: runs.view is not None, timeout=30_000)
    assert waits
    assert threading.main_thread() not in waits


def test_colours_of_an_unknown_run_are_asked_for_once_it_is_read(
    stocked: Window, qtbot: Any, tmp_path: Path, waits: list[threading.Thread]
) -> None:
    first, second = (tmp_path / f"{number}.h5" for number in range(2))
    for other in (first, second):
        shutil.copy(SAMPLES / "venue-01.h5", other)
    stocked.show_place("record", first)
    stocked.show_place("record", second)  # who asks for another gets that one
    record: Any = stocked.place
    qtbot.waitUntil(lambda: record.asked is not None, timeout=30_000)
    assert record.asked == second
    qtbot.wait(200)
    assert record.asked == second
    assert threading.main_thread() not in waits


def test_texts_become_recordings_while_the_window_goes_on(
    stocked: Window, qtbot: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    texts = [tmp_path / folder / "run.txt" for folder in ("a", "b")]
    for number, text in enumerate(texts):
        text.parent.mkdir()
        text.write_bytes(simulate("practice", number).data)
    threads: list[threading.Thread] = []
    plain = ingesting._ingest

    def noted(*given: Any) -> Path:
        threads.append(threading.current_thread())
        return plain(*given)

    monkeypatch.setattr(ingesting, "_ingest", noted)
    made: list[Path] = []
    for text in texts:
        stocked.workspace.shelf.ingest(text, made.append)
    assert not made, "not yet"
    qtbot.waitUntil(lambda: len(made) == 2, timeout=30_000)
    assert sorted(path.name for path in made) == ["run (2).h5", "run.h5"]
    assert threading.main_thread() not in threads


def test_a_text_that_is_no_stream_is_told(stocked: Window, qtbot: Any, tmp_path: Path) -> None:
    text = tmp_path / "letter.txt"
    text.write_text("Dear robot,\n")
    open_paths(stocked.workspace, [str(text)])
    qtbot.waitUntil(lambda: "letter.txt" in stocked.message_bar.text, timeout=30_000)
    assert not (stocked.workspace.folder.path / "letter.h5").exists()
