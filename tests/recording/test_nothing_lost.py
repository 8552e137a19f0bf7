"""Two programs at once, folders kept in step, links in the way: nothing is lost, nothing of others goes."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from recording.streams import stream
from recording.test_recording import write_journal
from telemetry.beside import part_beside
from telemetry.errors import StorageError
from telemetry.recording.disk.lock import recording_lock
from telemetry.recording.disk.replacing import replacing
from telemetry.recording.disk.storage import SystemDisk
from telemetry.recording.journal.records import JournalWriter, Record, RecordKind
from telemetry.recording.library import INDEX, entries
from telemetry.recording.load import load
from telemetry.recording.make import make_recording, recover, write_recording
from telemetry.recording.meta import Meta
from telemetry.recording.relabel import add_tags
from telemetry.text_in_place import write_text

POSIX = pytest.mark.skipif(sys.platform == "win32", reason="links of POSIX")
TAGGER = """
import sys
from pathlib import Path
from telemetry.recording.relabel import add_tags
for number in range(8):
    add_tags(Path(sys.argv[1]), (f"{sys.argv[2]}{number}",))
"""


def test_labels_written_by_four_programs_at_once_are_all_kept(tmp_path: Path) -> None:
    path, _ = make_recording(write_journal(tmp_path / "run.h5", stream(200), Meta(name="run")))
    raw = b"".join(data for _, data in load(path).raw())
    shells = [subprocess.Popen([sys.executable, "-c", TAGGER, str(path), letter]) for letter in "abcd"]
    assert [shell.wait(60) for shell in shells] == [0, 0, 0, 0]
    run = load(path)
    assert set(run.meta.tags) == {f"{letter}{number}" for letter in "abcd" for number in range(8)}
    assert b"".join(data for _, data in run.raw()) == raw
    assert [one.name for one in tmp_path.iterdir()] == ["run.h5"]


def test_who_finds_a_recording_being_changed_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path, _ = make_recording(write_journal(tmp_path / "run.h5", stream(20), Meta()))
    monkeypatch.setattr("telemetry.recording.relabel.recording_lock", lambda path: recording_lock(path, wait_s=0.05))
    with recording_lock(path) as held:
        assert held
        with pytest.raises(StorageError, match="another program is changing"):
            add_tags(path, ("x",))
    add_tags(path, ("x",))


def old(path: Path) -> Path:
    os.utime(path, (1.0, 1.0))
    return path


def test_only_what_bears_our_mark_is_ever_deleted(tmp_path: Path) -> None:
    names = ("film.mp4.part", "run.h5.part", "empty.h5.journal", ".sidelong-12.part", "x.journal")
    theirs = [tmp_path / name for name in names]
    for path in theirs:
        path.write_bytes(b"" if "journal" in path.name else b"half of it")
        old(path)
    ours, young = part_beside(tmp_path / "a"), part_beside(tmp_path / "b")
    for path in (ours, young):
        path.write_bytes(b"half")
    old(ours)
    (tmp_path / part_beside(tmp_path / "c").name).mkdir()
    assert recover(tmp_path) == []
    entries(tmp_path)
    assert all(path.exists() for path in theirs)
    assert not ours.exists()
    assert young.exists()


@POSIX
def test_what_is_half_written_by_somebody_stays_however_old(tmp_path: Path) -> None:
    disk = SystemDisk()
    with replacing(disk, tmp_path / "x") as image:
        image.write(b"slow")
        (part,) = tmp_path.iterdir()
        old(part)
        recover(tmp_path)
        assert part.exists()
    assert (tmp_path / "x").read_bytes() == b"slow"


@POSIX
def test_nothing_is_written_through_a_link(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder, outside = tmp_path / "runs", tmp_path / "authorized_keys"
    folder.mkdir()
    made = folder / ".sidelong-0123456789abcdef.part"
    made.symlink_to(outside)
    monkeypatch.setattr("telemetry.beside.secrets.token_hex", lambda count: "0123456789abcdef")
    with pytest.raises(OSError, match="exists"):
        write_text(folder / "palette.toml", "text")
    with pytest.raises(StorageError):
        write_recording(iter([Record(RecordKind.META, 0, b"{}")]), folder / "run.h5")
    monkeypatch.undo()
    made.unlink()
    (folder / f"{INDEX}.{os.getpid()}.part").symlink_to(outside)
    (folder / "run.h5.part").symlink_to(outside)
    write_journal(folder / "run.h5", stream(20), Meta())
    assert len(recover(folder)) == 1
    assert len(entries(folder)) == 1
    assert not outside.exists()


@POSIX
def test_a_lock_that_is_a_link_or_a_pipe_is_not_followed(tmp_path: Path) -> None:
    path, _ = make_recording(write_journal(tmp_path / "run.h5", stream(20), Meta()))
    with recording_lock(path):
        (lock,) = (one for one in tmp_path.iterdir() if one.suffix == ".lock")
    lock.symlink_to(tmp_path / "outside")
    with pytest.raises(StorageError):
        add_tags(path, ("x",))
    assert not (tmp_path / "outside").exists()
    lock.unlink()
    os.mkfifo(lock)
    with pytest.raises(StorageError):
        add_tags(path, ("x",))


def test_a_recording_of_half_the_journal_does_not_make_the_journal_vanish(tmp_path: Path) -> None:
    meta = Meta(name="kept in step").begun()
    half, whole = tmp_path / "half", tmp_path / "whole"
    half.mkdir()
    whole.mkdir()
    make_recording(write_journal(half / "run.h5", stream(377), meta, end=False))
    journal = write_journal(whole / "run.h5", stream(1122), meta)
    (whole / "run.h5").write_bytes((half / "run.h5").read_bytes())
    (found,) = recover(whole)
    assert found.recording == whole / "run-2.h5"
    assert load(found.recording).table.rows == 1122
    assert load(whole / "run.h5").table.rows == 377
    assert not journal.exists()


@pytest.mark.parametrize("end", [True, False])
def test_a_journal_whose_recording_is_whole_goes_without_another(tmp_path: Path, end: bool) -> None:
    meta = Meta(name="broken off before the journal went").begun()
    write_journal(tmp_path / "run.h5", stream(100), meta, end=end)
    kept = (tmp_path / "run.h5.journal").read_bytes()
    recover(tmp_path)
    add_tags(tmp_path / "run.h5", ("labelled",))
    (tmp_path / "run.h5.journal").write_bytes(kept)
    (found,) = recover(tmp_path)
    assert found.recording == tmp_path / "run.h5"
    assert [one.name for one in tmp_path.iterdir()] == ["run.h5"]


def test_a_journal_that_grew_meanwhile_stays(tmp_path: Path) -> None:
    journal = write_journal(tmp_path / "run.h5", stream(30), Meta().begun(), end=False)

    def grow() -> None:
        with journal.open("ab") as file:
            file.write(b"what another computer has captured since")

    make_recording(journal, release=grow)
    assert journal.exists()


def test_a_new_recording_never_takes_the_place_of_a_file(tmp_path: Path) -> None:
    def late() -> None:
        with replacing(SystemDisk(), tmp_path / "x.h5", new=True) as image:
            image.write(b"late")
            (tmp_path / "x.h5").write_bytes(b"first")

    with pytest.raises(StorageError, match="there already"):
        late()
    assert (tmp_path / "x.h5").read_bytes() == b"first"
    assert len(list(tmp_path.iterdir())) == 1


def test_a_drive_without_hard_links_does_it_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*args: object, **options: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(os, "link", refuse)
    with replacing(SystemDisk(), tmp_path / "x.h5", new=True) as image:
        image.write(b"new")
    with pytest.raises(StorageError, match="there already"), replacing(SystemDisk(), tmp_path / "x.h5", new=True) as image:
        image.write(b"other")
    assert (tmp_path / "x.h5").read_bytes() == b"new"
    assert len(list(tmp_path.iterdir())) == 1


def test_an_empty_journal_is_nobody_s_to_delete_but_blocks_no_listing(tmp_path: Path) -> None:
    (tmp_path / "run.h5.journal").write_bytes(b"")
    with pytest.raises(StorageError):
        JournalWriter(tmp_path / "run.h5.journal", Meta(), made_ns=1)
    assert recover(tmp_path) == []
    assert entries(tmp_path) == []
    assert (tmp_path / "run.h5.journal").exists()
