"""A recording of several drives is said to be one, and is cut into its runs (simulated text and the built-in robot)."""

from pathlib import Path

import numpy as np
import pytest

from telemetry.cli import main
from telemetry.recording.drives import cut_into_drives, drives_in
from telemetry.recording.journal.records import JournalWriter, journal_path
from telemetry.recording.load import load
from telemetry.recording.make import make_recording
from telemetry.recording.meta import Meta
from telemetry.recording.names import recordings_below
from telemetry.recording.verify import verify
from telemetry.stream.drives import drives
from tests.recording.test_just_made import drive

T0_NS = 1_790_000_000_000_000_000
COURSE = """
[course]
name = "lane"
[[leg]]
name = "lane"
[[slot]]
name = "tag 1"
leg = "lane"
at_cm = 20
group = "tags"
[[group]]
name = "tags"
distinct = ["rust", "leaf"]
"""


def three_runs(folder: Path) -> Path:
    """Three drives in one text that was fetched, the second after the robot said something; codes are said at the start."""
    course, text, path = folder / "course.toml", folder / "drives.txt", folder / "runs" / "drives.h5"
    course.write_text(COURSE, encoding="utf-8")
    lines = [line for number in range(3) for line in drive(10_000 * number)]
    lines.insert(310, "!10150,gate open")
    lines = [*lines[:-80], "!24500,gate closed"]  # it was switched off while it stood
    text.write_text("\n".join(["#t/ms,colour,dist/mm", *lines, ""]), encoding="utf-8")
    assert main(["ingest", str(text), "-o", str(path), "--course", str(course), "--truth", "rust"]) == 0
    return path


def test_each_drive_becomes_a_run_and_the_whole_can_be_brought_back(tmp_path, capsys):
    path = three_runs(tmp_path)
    before = load(path)
    assert drives_in(before) == 3
    assert main(["runs", "cut", str(path)]) == 0
    assert "To bring it back: sidelong runs restore" in capsys.readouterr().out
    made = recordings_below(path.parent)
    assert [one.name for one in made] == [f"drives run {n}.h5" for n in (1, 2, 3)]
    parts = [load(one) for one in made]
    assert all(drives_in(part) == 1 and not verify(one).problem for part, one in zip(parts, made, strict=True))
    assert len({part.meta.id for part in parts} | {before.meta.id}) == 4
    assert all(part.meta.course == before.meta.course and part.meta.truth is None for part in parts)
    assert [part.meta.made for part in parts] == sorted({part.meta.made for part in parts})
    assert [note.text for note in parts[1].table.notes] == ["gate open"]
    assert [note.text for note in parts[2].table.notes] == ["gate closed"]
    # Every sample of a drive is in its run, as it was.
    whole_us = before.table.columns["t_us"]
    for part in parts:
        t_us = part.table.columns["t_us"]
        rows = np.searchsorted(whole_us, t_us)
        assert np.array_equal(whole_us[rows], t_us)
        assert np.array_equal(before.table.columns["dist"][rows], part.table.columns["dist"])
        assert np.all(np.diff(rows) == 1)
    assert main(["runs", "restore", str(path)]) == 0
    assert load(path).meta.id == before.meta.id


@pytest.mark.parametrize("size", [1, 7, 64, 100_000])
def test_however_it_arrived_each_drive_has_its_samples(tmp_path: Path, size: int) -> None:
    """In pieces of any size; colours by number, explained at the start; the link went away in the second drive."""
    lines = ["#codes,0=none,2=rust,5=leaf", "#range,refl=0..90", "#t/ms,colour,refl/%,dist/mm"]
    for number in range(3):
        lines += [row.replace("none", "025"[number]) for row in drive(10_000 * number)]
    lines[3:] = [",".join([*row.split(",")[:2], str(index % 90), row.split(",")[2]]) for index, row in enumerate(lines[3:])]
    data = ("\r\n".join(lines) + "\r\n").encode()
    path = tmp_path / "whole.h5"
    journal = JournalWriter(journal_path(path), Meta(name="whole").begun(), made_ns=T0_NS)
    lost_at = data.index(b"10500,")
    for at in range(0, len(data), size):
        if at <= lost_at < at + size and size < 1000:
            journal.gap(T0_NS + at * 1000, "the link went away")
        journal.received(T0_NS + at * 1000, data[at : at + size])
        if at <= data.index(b"11000,") < at + size:
            journal.mark(T0_NS + at * 1000, "here")
    journal.end(T0_NS + len(data) * 1000, "over")
    journal.close()
    make_recording(journal.path)
    whole = load(path).table
    made = [load(one) for one in cut_into_drives(load(path))]
    parts, found = [one.table for one in made], drives(whole)
    assert [[mark.text for mark in one.marks] for one in made] == [[], ["here"] if size < 1000 else [], []]
    assert len(found) == 3
    for part, drive_found, colour in zip(parts, found, ("none", "rust", "leaf"), strict=True):
        rows = np.arange(drive_found.first, drive_found.last + 1)
        assert part.rows == len(rows)
        for name in ("t_us", "refl", "dist", "arrival_us"):
            assert np.array_equal(whole.columns[name][rows], part.columns[name], equal_nan=True), name
        assert {part.colours[int(one)] for one in np.unique(part.columns["colour"])} == {colour}
        assert part.ranges == whole.ranges
    rejected = [line.raw for line in whole.rejected]
    assert [line.raw for part in parts for line in part.rejected] == rejected


def test_numbers_whose_columns_were_named_are_cut_too(tmp_path: Path) -> None:
    """A robot that sends no header: the names were given when the text was read."""
    text, path = tmp_path / "drives.txt", tmp_path / "drives.h5"
    text.write_text("\n".join([*drive(0), *drive(10_000), ""]), encoding="utf-8")
    assert main(["ingest", str(text), "-o", str(path), "--columns", "t/ms,colour,dist/mm"]) == 0
    assert main(["runs", "cut", str(path)]) == 0
    parts = [load(tmp_path / f"drives run {number}.h5").table for number in (1, 2)]
    assert [int(part.columns["t_us"].max()) // 10_000_000 for part in parts] == [0, 1]
    assert not any(part.rejected for part in parts)


def test_a_header_line_that_a_gap_cut_off_is_no_header_of_the_next_drive(tmp_path: Path) -> None:
    """The link went away within a header line that was sent again at rest: what came then is not the rest of it."""
    lines = [line.encode() + b"\n" for number in range(2) for line in drive(10_000 * number)]
    path = tmp_path / "whole.h5"
    journal = JournalWriter(journal_path(path), Meta(name="whole").begun(), made_ns=T0_NS)
    journal.received(T0_NS, b"#t/ms,colour,dist/mm\n" + b"".join(lines[:150]) + b"#t/ms,dis")
    journal.gap(T0_NS + 1_000_000, "the link went away")
    journal.received(T0_NS + 2_000_000, b"".join(lines[150:]))
    journal.end(T0_NS + 3_000_000, "over")
    journal.close()
    make_recording(journal.path)
    parts = [load(one).table for one in cut_into_drives(load(path))]
    assert [set(part.columns) >= {"t_us", "colour", "dist"} for part in parts] == [True, True]
    assert [part.columns["dist"].max() for part in parts] == [parts[0].columns["dist"].max()] * 2


def test_compare_says_that_a_recording_looks_like_several_runs(tmp_path, capsys):
    path = three_runs(tmp_path)
    assert main(["compare", str(path), "--strategy", "checklist"]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "this looks like 3 runs" in out
    assert "sidelong runs cut" in out
    main(["runs", "cut", str(path)])
    assert main(["compare", str(path.parent), "--strategy", "checklist"]) == 0
    assert "looks like" not in capsys.readouterr().out


def test_one_drive_is_not_cut(tmp_path, capsys):
    text = tmp_path / "one.txt"
    text.write_text("\n".join(["#t/ms,colour,dist/mm", *drive(0), ""]), encoding="utf-8")
    assert main(["ingest", str(text), "-o", str(tmp_path / "one.h5")]) == 0
    assert main(["runs", "cut", str(tmp_path / "one.h5")]) == 3
    assert "drives only once" in capsys.readouterr().err
    assert [one.name for one in tmp_path.glob("*.h5")] == ["one.h5"]


def test_who_stops_the_cutting_keeps_the_recording_only(tmp_path):
    path = three_runs(tmp_path)
    assert cut_into_drives(load(path), lambda number, _of: number < 3) == []
    assert [one.name for one in path.parent.iterdir()] == ["drives.h5"]


def test_what_was_removed_is_neither_listed_nor_compared_and_comes_back(tmp_path, capsys):
    path = three_runs(tmp_path)
    assert main(["runs", "remove", str(path)]) == 0
    assert recordings_below(path.parent) == []
    assert main(["compare", str(path.parent)]) == 3
    assert main(["runs", "restore", str(path)]) == 0
    assert recordings_below(path.parent) == [path]
    assert main(["runs", "restore", str(path)]) == 3
    assert "no recording of this name was removed" in capsys.readouterr().err


def test_removing_twice_under_one_name_loses_neither(tmp_path):
    first = three_runs(tmp_path)
    known = load(first).meta.id
    assert main(["runs", "remove", str(first)]) == 0
    second = three_runs(tmp_path)
    other = load(second).meta.id
    assert main(["runs", "remove", str(second)]) == 0
    assert main(["runs", "restore", str(second)]) == 0
    assert load(second).meta.id == other
    assert main(["runs", "restore", str(second)]) == 5
    second.unlink()
    assert main(["runs", "restore", str(first)]) == 0
    assert load(first).meta.id == known


def test_only_a_recording_is_removed(tmp_path):
    other = tmp_path / "notes.txt"
    other.write_text("mine", encoding="utf-8")
    assert main(["runs", "remove", str(other)]) == 3
    assert other.read_text(encoding="utf-8") == "mine"
