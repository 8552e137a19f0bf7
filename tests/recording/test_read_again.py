"""Numbers whose columns were forgotten or wrong are read anew from the bytes that were kept (simulated text)."""

from pathlib import Path

import pytest

from telemetry.cli import main
from telemetry.recording.journal.records import JournalWriter, journal_path
from telemetry.recording.load import load
from telemetry.recording.make import make_recording
from telemetry.recording.meta import Meta
from telemetry.recording.verify import verify
from tests.recording.test_just_made import drive

T0_NS = 1_790_000_000_000_000_000


@pytest.fixture
def nameless(tmp_path: Path) -> Path:
    """A capture of plain numbers, with a mark and a gap, whose columns nobody named."""
    path = tmp_path / "nameless.h5"
    lines = [line.encode() + b"\n" for line in drive(0)]
    journal = JournalWriter(journal_path(path), Meta(name="first", tags=("wet",), source="port").begun(), made_ns=T0_NS)
    journal.received(T0_NS, b"".join(lines[:50]))
    journal.mark(T0_NS + 1000, "here")
    journal.gap(T0_NS + 2000, "the link went away")
    journal.received(T0_NS + 3000, b"".join(lines[50:]))
    journal.end(T0_NS + 4000, "over")
    journal.close()
    make_recording(journal.path)
    return path


def test_names_given_later_are_as_good_as_names_given_at_once(nameless: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = nameless.read_bytes()
    again = nameless.with_name("named.h5")
    assert load(nameless).table.rows == 0
    assert main(["compare", str(nameless)]) == 0
    assert "holds no sample, but 300 lines that could not be read" in " ".join(capsys.readouterr().out.split())
    assert main(["ingest", str(nameless), "--columns", "t/ms,colour,dist/mm", "-o", str(again), "--tag", "dry"]) == 0
    made = load(again)
    assert made.table.rows == len(drive(0)) - 1  # the line behind the gap is not known to be whole
    assert made.table.columns["dist"].max() == 60
    assert (made.meta.tags, made.meta.name, made.meta.source) == (("dry",), "first", "port")
    assert [mark.text for mark in made.marks] == ["here"]
    assert made.table.columns["arrival_us"][0] == T0_NS // 1000
    assert not verify(again).problem
    assert nameless.read_bytes() == before
    capsys.readouterr()
    assert main(["ingest", str(nameless), "--columns", "t/ms,colour", "-o", str(nameless.with_name("bad.h5"))]) != 0
    assert "must name each of the 3 values" in capsys.readouterr().err
    assert not nameless.with_name("bad.h5").exists()


def test_nothing_to_cut_is_said(nameless: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["runs", "cut", str(nameless)]) == 3
    assert "the robot does not drive in it" in capsys.readouterr().err


def test_a_damaged_recording_can_be_taken_away(nameless: Path, capsys: pytest.CaptureFixture[str]) -> None:
    nameless.write_bytes(nameless.read_bytes()[:500])
    assert main(["export", "a.csv", "-o", "b.h5"]) == 2
    assert "To make a recording of it: sidelong export --back a.csv" in capsys.readouterr().err
    (nameless.parent / "notes.txt").write_text("mine", encoding="utf-8")
    assert main(["report", str(nameless.parent), "-o", str(nameless.with_name("page.html"))]) == 3
    assert "nameless.h5" in capsys.readouterr().err
    assert main(["runs", "remove", str(nameless)]) == 0
    assert "is now" in capsys.readouterr().out
    assert main(["runs", "restore", str(nameless)]) == 0
    assert nameless.exists()
    assert main(["runs", "remove", str(nameless.parent)]) == 3
    assert "this is a folder, and single recordings are wanted" in capsys.readouterr().err
    assert main(["runs", "remove", str(nameless.with_name("notes.txt"))]) == 3
    assert nameless.with_name("notes.txt").exists()
