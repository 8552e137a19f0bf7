"""Many recordings in a folder: listed at once the second time, damaged ones shown, the index only a copy."""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path

import pytest

from recording.streams import stream
from recording.test_recording import T0_NS, write_journal
from telemetry.errors import StorageError, TruthError
from telemetry.recording.journal.records import JournalWriter
from telemetry.recording.library import INDEX, entries, search
from telemetry.recording.load import load
from telemetry.recording.make import make_recording, recover
from telemetry.recording.meta import Meta
from telemetry.recording.relabel import relabel, rename, set_truth


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for i, name in enumerate(["b.h5", "a.h5"]):
        make_recording(write_journal(tmp_path / name, stream(30 + i), Meta(name=name, made=f"2026-05-0{i + 1}T10:00:00")))
    (tmp_path / "broken.h5").write_bytes((tmp_path / "a.h5").read_bytes()[:500])
    (tmp_path / "text.h5").write_bytes(b"no recording")
    (tmp_path / "readme.txt").write_text("not a recording")
    return tmp_path


def test_everything_is_listed_with_its_state(folder: Path) -> None:
    running = JournalWriter(folder / "now.h5.journal", Meta(name="running", made="2027").begun(), made_ns=T0_NS)
    found = {Path(entry.path).name: entry for entry in entries(folder)}
    assert {name: entry.state for name, entry in found.items()} == {
        "a.h5": "whole", "b.h5": "whole", "broken.h5": "damaged", "text.h5": "damaged", "now.h5": "capturing",
    }  # fmt: skip
    assert "cut short" in found["broken.h5"].problem
    assert "not a recording" in found["text.h5"].problem
    assert (found["a.h5"].rows, found["b.h5"].rows) == (31, 30)
    running.close()
    assert {entry.state for entry in entries(folder)} >= {"broken off"}


@pytest.mark.skipif(sys.platform == "win32", reason="pipes and links of POSIX")
def test_what_only_looks_like_a_recording_is_passed_over(folder: Path) -> None:
    before = entries(folder)
    os.mkfifo(folder / "pipe.h5")
    os.mkfifo(folder / "pipe.h5.journal")
    (folder / "nowhere.h5").symlink_to(folder / "gone.h5")
    (folder / "folder.h5").mkdir()
    assert entries(folder) == before
    assert recover(folder) == []


@pytest.mark.skipif(sys.platform == "win32", reason="links of POSIX")
def test_labels_go_into_the_recording_behind_a_link(folder: Path) -> None:
    (folder / "links").mkdir()
    link = folder / "links" / "a.h5"
    link.symlink_to(folder / "a.h5")
    rename(link, "through the link")
    assert link.is_symlink()
    assert load(folder / "a.h5").meta.name == "through the link"


def test_the_index_is_only_a_copy(folder: Path) -> None:
    first = entries(folder)
    assert (folder / INDEX).exists()
    stamp = (folder / INDEX).stat().st_mtime_ns
    assert entries(folder) == first
    assert (folder / INDEX).stat().st_mtime_ns == stamp, "nothing changed, so nothing is written"
    for spoilt in (
        b"",
        b"{",
        b"[" * 100_000,
        b'{"version": 99, "entries": {}}',
        b'{"version": 1, "entries": {"a.h5": [1, 2, {"path": "x"}]}}',
    ):
        (folder / INDEX).write_bytes(spoilt)
        assert entries(folder) == first
    rename(folder / "a.h5", "other")
    (folder / "b.h5").unlink()
    assert {entry.name for entry in entries(folder)} == {"other", ""}
    moved = folder.rename(folder.with_name("moved"))
    assert all(entry.path.startswith(str(moved)) for entry in entries(moved))


def test_a_folder_that_cannot_be_written_is_listed_all_the_same(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*args: object, **options: object) -> int:
        raise PermissionError(13, "no")

    monkeypatch.setattr(Path, "write_text", refuse)
    assert len(entries(folder)) == 4


def test_search_by_date_and_words(folder: Path) -> None:
    found = entries(folder)
    assert [entry.name for entry in search(found, since="2026-05-02", until="2026-05")] == ["a.h5"]
    assert [entry.name for entry in search(found, until="2026-04")] == []
    assert [entry.name for entry in search(found, text="B.H5")] == ["b.h5"]


def test_labels_that_do_not_fit_change_nothing(folder: Path) -> None:
    before = (folder / "a.h5").read_bytes()
    with pytest.raises(TruthError, match="needs a course"):
        set_truth(folder / "a.h5", ("rust",))
    assert (folder / "a.h5").read_bytes() == before
    assert relabel(folder / "a.h5", lambda meta: meta).name == "a.h5"
    assert (folder / "a.h5").read_bytes() == before


def test_a_run_that_is_being_captured_is_not_relabelled(folder: Path) -> None:
    running = JournalWriter(folder / "now.h5.journal", Meta().begun(), made_ns=T0_NS)
    with pytest.raises(StorageError, match="being captured right now"):
        rename(folder / "now.h5", "x")
    running.close()


@pytest.mark.bench
def test_thousands_are_listed_at_once_the_second_time(folder: Path) -> None:
    data = (folder / "a.h5").read_bytes()
    for i in range(3_000):
        (folder / f"run{i:05}.h5").write_bytes(data)
    times = []
    for _ in range(2):
        began = time.perf_counter()
        found = entries(folder)
        times.append(time.perf_counter() - began)
        assert len(found) == 3_004
    print(f"\n3,000 recordings: listed in {times[0]:.1f} s the first time, {times[1]:.2f} s the second")
    assert times[1] < times[0] / 4
