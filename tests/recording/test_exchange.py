"""Out to CSV and Parquet and back: nothing is lost. And what other programs see in them."""

from __future__ import annotations

import base64
import csv
import json
import lzma
from pathlib import Path

import numpy as np
import pyarrow.parquet
import pytest
from faults.faulty_disk import FaultyDisk, is_full

from recording.streams import stream
from recording.test_recording import same, write_journal
from telemetry.errors import RecordingError, StorageError
from telemetry.recording.bring_back import bring_back
from telemetry.recording.exchange import export, sidecar
from telemetry.recording.load import load
from telemetry.recording.make import make_recording
from telemetry.recording.meta import Meta

ODD = [*stream(300), b"#range,red=4..1023\n", b"1,no\n", b"\xff\x00,\t\\x\n", b"> a prompt\n", b"!9999,tag, \"quoted\"\n",
       b"#t/ms,refl/%,odd/m,colour.side\n", b"9000,1e300,-0.0,\n", b"9010,,0.1,sky, blue\n", b"9020,,0.1,sky\n"]  # fmt: skip


def recorded(folder: Path) -> Path:
    meta = Meta(name='odd, "name"', tags=("wet",), remarks="line\nbreak", height_mm=8.5, simulated=True)
    make_recording(write_journal(folder / "run.h5", ODD, meta))
    return folder / "run.h5"


@pytest.mark.parametrize("suffix", [".csv", ".parquet"])
def test_there_and_back_loses_nothing(tmp_path: Path, suffix: str) -> None:
    before = load(recorded(tmp_path))
    files = export(before, tmp_path / f"out{suffix}")
    assert all(file.exists() for file in files)
    bring_back(tmp_path / f"out{suffix}", tmp_path / "back.h5")
    after = load(tmp_path / "back.h5")
    same(before.table, after.table)
    assert list(before.table.columns) == list(after.table.columns)
    assert (before.meta, before.summary) == (after.meta, after.summary)
    assert list(before.raw()) == list(after.raw())
    with pytest.raises(StorageError, match="there already"):
        export(before, tmp_path / f"out{suffix}")


def test_the_csv_is_what_rfc_4180_asks_for(tmp_path: Path) -> None:
    """RFC 4180, 2: CRLF line ends, a header line, the same number of fields in every line, quotes doubled."""
    run = load(recorded(tmp_path))
    export(run, tmp_path / "out.csv")
    data = (tmp_path / "out.csv").read_bytes()
    assert data.count(b"\n") == data.count(b"\r\n") == run.table.rows + 1
    with (tmp_path / "out.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.reader(file, strict=True))
    assert {"t/us", "arrival/us", "refl/%", "dist/cm"} <= set(rows[0])
    assert len(set(rows[0])) == len(rows[0])
    assert {len(row) for row in rows} == {len(run.table.columns)}
    dist = rows[0].index("dist/cm")
    assert [float(row[dist]) for row in rows[1:301]] == run.table.columns["dist"][:300].tolist()


def test_a_quote_in_a_name_is_doubled_and_quoted(tmp_path: Path) -> None:
    """RFC 4180, 2.7: a double quote inside a field is escaped by another, and the field stands in quotes."""
    path = tmp_path / "run.h5"
    make_recording(write_journal(path, [b'#t/ms,odd"one,refl/%\n', b"10,1,2\n", b"20,3,4\n"], Meta()))
    export(load(path), tmp_path / "out.csv")
    header = (tmp_path / "out.csv").read_bytes().split(b"\r\n")[0]
    assert b'"odd""one"' in header
    with (tmp_path / "out.csv").open(newline="", encoding="utf-8") as file:
        assert 'odd"one' in next(csv.reader(file, strict=True))


def test_parquet_says_its_units(tmp_path: Path) -> None:
    export(load(recorded(tmp_path)), tmp_path / "out.parquet")
    schema = pyarrow.parquet.read_schema(tmp_path / "out.parquet")
    assert schema.field("dist").metadata[b"unit"] == b"cm"
    assert schema.field("t").metadata[b"unit"] == b"us"


def test_a_table_changed_in_a_spreadsheet_comes_back_changed(tmp_path: Path) -> None:
    run = load(recorded(tmp_path))
    export(run, tmp_path / "out.csv")
    lines = (tmp_path / "out.csv").read_bytes().split(b"\r\n")
    (tmp_path / "out.csv").write_bytes(b"\r\n".join(lines[:101]) + b"\r\n")
    bring_back(tmp_path / "out.csv", tmp_path / "less.h5", edited=True)
    assert load(tmp_path / "less.h5").table.rows == 100
    sidecar(tmp_path / "out.csv").unlink()
    bring_back(tmp_path / "out.csv", tmp_path / "bare.h5")
    bare = load(tmp_path / "bare.h5")
    assert np.array_equal(bare.table.columns["dist"], run.table.columns["dist"][:100])
    assert bare.meta.name == "out"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (b"a,b\r\n1,2\r\n", "no column t/us"),
        (b"t/ms,refl/%\r\n1,2\r\n", "should be in us"),
        (b"t/us,refl/%\r\n1\r\n", "line 2 has 1 fields"),
        (b"t/us,refl/%\r\n1,x\r\n", "'x' is not a number"),
        (b"\xff\xfe", "not a table of samples"),
        (b"", "no column t/us"),
    ],
)
def test_what_is_no_such_table_is_refused_in_words(tmp_path: Path, text: bytes, words: str) -> None:
    (tmp_path / "x.csv").write_bytes(text)
    with pytest.raises(RecordingError, match=words):
        bring_back(tmp_path / "x.csv", tmp_path / "x.h5")
    assert not (tmp_path / "x.h5").exists()


def test_half_an_export_is_never_left(tmp_path: Path) -> None:
    run = load(recorded(tmp_path))

    def failing(step: int, name: str) -> int:
        disk = FaultyDisk(step, is_full)
        try:
            export(run, tmp_path / name, disk=disk)
        except StorageError:
            assert not (tmp_path / name).exists()
        return disk.steps

    for suffix in ("csv", "parquet"):
        step = 0
        while failing(step, f"{step}.{suffix}") > step:
            step += 1
        assert step > 3
        assert load_back(tmp_path / f"{step}.{suffix}") == run.table.rows
    assert not list(tmp_path.glob(".sidelong-*"))


def load_back(path: Path) -> int:
    return bring_back(path, path.with_suffix(".back.h5"))


def test_a_table_that_lost_lines_is_not_taken_for_whole(tmp_path: Path) -> None:
    run = load(recorded(tmp_path))
    table, _ = export(run, tmp_path / "run.csv")
    lines = table.read_bytes().splitlines(keepends=True)
    table.write_bytes(b"".join(lines[: len(lines) // 2]))
    with pytest.raises(RecordingError, match="were exported"):
        bring_back(table, tmp_path / "back.h5")
    assert bring_back(table, tmp_path / "back.h5", edited=True) == len(lines) // 2 - 1


def test_no_cell_begins_like_a_formula_and_each_comes_back(tmp_path: Path) -> None:
    names = ["=cmd()", "+1", "-x", "@sum", "'quoted", "'=both", "plain"]
    run = load(recorded(tmp_path))
    run.table.colours = run.summary.colours = ("none", *names)
    run.table.columns["colour"] = (np.arange(run.table.rows) % len(names) + 1).astype(np.int16)
    run.table.columns["=evil"] = np.full(run.table.rows, -3.5)
    table, _ = export(run, tmp_path / "run.csv")
    for row in csv.reader(table.read_text().splitlines()):
        for cell in row:
            assert not cell.startswith(("=", "+", "@")), cell
            assert cell[:1] != "-" or float(cell) <= 0, cell
    bring_back(table, tmp_path / "back.h5")
    back = load(tmp_path / "back.h5")
    assert [back.table.colours[i] for i in back.table.columns["colour"][: len(names)]] == names
    assert back.table.columns.keys() == run.table.columns.keys()


def test_a_few_bytes_that_claim_gigabytes_are_refused(tmp_path: Path) -> None:
    (tmp_path / "x.csv").write_text("t/us\n1\n")
    packed = base64.b64encode(lzma.compress(bytes(64 << 20))).decode()
    for reads in ([[0, 10]], [[0, 1 << 40]], [[0, 5], [0, -5]]):
        (tmp_path / "x.csv.json").write_text(json.dumps({"rows": 1, "reads": reads, "raw_xz": packed}))
        with pytest.raises(RecordingError, match="labels cannot be understood"):
            bring_back(tmp_path / "x.csv", tmp_path / "x.h5")
        assert not (tmp_path / "x.h5").exists()


def test_a_table_of_very_many_colours_or_of_a_number_too_large_is_refused_at_once(tmp_path: Path) -> None:
    (tmp_path / "x.csv").write_text("t/us,colour\n" + "".join(f"{i},c{i}\n" for i in range(40_000)))
    with pytest.raises(RecordingError, match="40,001 colours"):
        bring_back(tmp_path / "x.csv", tmp_path / "x.h5")
    (tmp_path / "x.csv").write_text(f"t/us\n{1 << 70}\n")
    with pytest.raises(RecordingError, match=r"line 2: .* is not a number"):
        bring_back(tmp_path / "x.csv", tmp_path / "x.h5")
    (tmp_path / "x.csv").write_text("t/us\n" + "1" * (2 << 20))
    with pytest.raises(RecordingError, match="too long"):
        bring_back(tmp_path / "x.csv", tmp_path / "x.h5")
