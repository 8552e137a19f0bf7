"""Coverage-guided fuzzing of everything that reads files: data comes out, or an error of ``telemetry.errors``; nothing else.

Not part of the tests; it needs ``pip install atheris`` (Linux, macOS). WHAT is ``journal``, ``recording``, ``table``,
``course`` or ``palette``; run for a minute:
``python tests/faults/fuzz_reader.py WHAT -max_total_time=60 -max_len=65536 -timeout=10 -rss_limit_mb=1500``
"""

from __future__ import annotations

import json
import random
import sys
import tempfile
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["telemetry.recording", "telemetry.course", "telemetry.palette_file"]):
    from telemetry.course import load_course
    from telemetry.errors import SidelongError
    from telemetry.palette_file import palette_text, read_palette
    from telemetry.recording.bring_back import bring_back
    from telemetry.recording.disk import storage
    from telemetry.recording.exchange import export, sidecar
    from telemetry.recording.follow import Follower
    from telemetry.recording.hdf5.reader import RecordingFile
    from telemetry.recording.journal.reader import JournalReader
    from telemetry.recording.journal.records import Record, RecordKind
    from telemetry.recording.library import look_at
    from telemetry.recording.load import load
    from telemetry.recording.make import make_recording
    from telemetry.recording.meta import Meta
    from telemetry.report.recording_text import describe

sys.path.insert(0, str(Path(__file__).parents[1]))
from recording.streams import stream
from recording.test_recording import write_journal

from faults.spoilers import bytes_changed, journal_changed, recording_changed, text_changed, tree_changed

ROOT = Path(__file__).parents[2]
BESIDE = b"\n-- beside it: --\n"
SHORT = [*stream(30, note_at=7), b"1,no\n", b"> prompt\n", b"#codes,1=rust\n", b"!9000,read,tag 1,rust\n"]


class Files:
    """A folder of its own, made empty before each input."""

    def __init__(self) -> None:
        self._kept = tempfile.TemporaryDirectory(prefix="fuzz-", dir="/dev/shm" if Path("/dev/shm").is_dir() else None)
        self.folder = Path(self._kept.name)

    def write(self, name: str, data: bytes) -> Path:
        for path in self.folder.iterdir():
            path.unlink()
        path = self.folder / name
        path.write_bytes(data)
        return path


def journal(data: bytes, files: Files) -> None:
    """Followed, and made into a recording; both count every byte, and say the same."""
    path = files.write("run.h5.journal", data)
    records = _records(path)
    kept = b"".join(record.payload for record in records if record.kind is RecordKind.BYTES)
    follower = Follower(path)
    follower._asked = -1.0
    while follower.poll():
        pass
    follower.close()
    tally = follower._assembler.decoder.tally
    # At a gap the half line before it is ended by a line end of ours.
    assert follower.summary.bytes == len(kept) <= tally.bytes_in
    assert tally.bytes_in == tally.line_ends + sum(tally.bytes_of.values())
    made, _ = make_recording(path)
    if records:
        run = load(made)
        assert b"".join(part for _, part in run.raw()) == kept
        assert run.table.rows == follower.table.rows
        describe(run)


def _records(path: Path) -> list[Record]:
    reader = JournalReader(path)
    records: list[Record] = []
    while more := reader.read() or reader.read(final=True):
        records += more
    reader.close()
    return records


def recording(data: bytes, files: Files) -> None:
    """Listed, opened, described and read to the last byte."""
    path = files.write("run.h5", data)
    look_at(path)
    with suppress(SidelongError):
        describe(load(path))
    file = RecordingFile(path)
    try:
        for _ in file.raw():
            pass
    finally:
        file.close()


def table(data: bytes, files: Files) -> None:
    """A CSV file and its document, made into a recording and read."""
    cells, _, document = data.partition(BESIDE)
    path = files.write("run.csv", cells)
    if document:
        sidecar(path).write_bytes(document)
    target = path.with_suffix(".h5")
    bring_back(path, target)
    assert sorted(one.name for one in files.folder.iterdir() if "part" in one.name) == []
    describe(load(target))
    for _ in load(target).raw():
        pass


def course(data: bytes, files: Files) -> None:
    """A course file."""
    load_course(files.write("course.toml", data))


def palette(data: bytes, files: Files) -> None:
    """A palette file; what was read is written and read again."""
    again = palette_text(read_palette(files.write("palette.toml", data)))
    read_palette(files.write("again.toml", again.encode()))


def seeds(what: str) -> list[bytes]:
    """Files made by the real writers."""
    if what == "journal":
        with tempfile.TemporaryDirectory() as name:
            plain = write_journal(Path(name) / "a.h5", SHORT, Meta(name="a")).read_bytes()
            named = write_journal(Path(name) / "b.h5", [b"1,5\n2,6\n"], Meta(columns="t/ms,refl/%"), end=False).read_bytes()
        return [plain, named]
    if what == "recording":
        demos = ["extreme-01.h5", "venue-codes-only-23.h5", "venue-two-sensors-22.h5"]
        old = sorted((ROOT / "tests" / "recording").glob("layout-*.h5"))
        return [path.read_bytes() for path in [*(ROOT / "recordings" / demo for demo in demos), *old]] + _made_recordings()
    if what == "table":
        with tempfile.TemporaryDirectory() as name:
            path, _ = make_recording(write_journal(Path(name) / "a.h5", SHORT, Meta(name="a")))
            cells, document = export(load(path), Path(name) / "a.csv")
            return [cells.read_bytes() + BESIDE + document.read_bytes(), cells.read_bytes()]
    if what == "course":
        return [path.read_bytes() for path in sorted((ROOT / "telemetry" / "sources" / "synthetic").glob("*.toml"))]
    from telemetry.palette_default import default_palette

    return [palette_text(default_palette()).encode()]


def _made_recordings() -> list[bytes]:
    with tempfile.TemporaryDirectory() as name:
        out = []
        for i, pieces in enumerate([SHORT, [], [b"no header\n"], stream(7000)]):
            path, _ = make_recording(write_journal(Path(name) / f"{i}.h5", pieces, Meta(name="made")))
            out.append(path.read_bytes())
        return out


def table_changed(data: bytes, lot: random.Random) -> bytes:
    """A cell of the table, or the document beside it."""
    cells, beside, document = data.partition(BESIDE)
    if beside and lot.random() < 0.6:
        return cells + beside + json.dumps(tree_changed(json.loads(document), lot)).encode()
    lines = [line.split(b",") for line in cells.split(b"\r\n")]
    line = lot.choice(lines[: lot.choice([1, len(lines)])])
    odd = [b"", b"-1", b"1e999", b"nan", b"9" * 30, b'"', b"x", b"t/us", b"colour", b"refl/%", b"0x5", b"1_000", b"\xff"]
    line[lot.randrange(len(line))] = lot.choice(odd)
    return b"\r\n".join(b",".join(line) for line in lines) + beside + document


SPOILERS: dict[str, Callable[[bytes, random.Random], bytes]] = {
    "journal": journal_changed,
    "recording": recording_changed,
    "table": table_changed,
    "course": text_changed,
    "palette": text_changed,
}


def main(words: list[str]) -> None:
    """``WHAT`` first, then options of libFuzzer."""
    what = words[1]
    target = {"journal": journal, "recording": recording, "table": table, "course": course, "palette": palette}[what]
    files = Files()
    good = seeds(what)
    storage._sync = lambda fd: None

    def one(data: bytes) -> None:
        with suppress(SidelongError):
            target(data, files)

    def mutate(data: bytes, most: int, seed: int) -> bytes:
        lot = random.Random(seed)
        how = lot.random()
        out = data if how < 0.7 and len(data) > 2 else lot.choice(good)
        if lot.random() < 0.7:
            with suppress(Exception):  # what is spoilt already may not be changed like a sound file
                out = SPOILERS[what](out, lot)
        if how < 0.2:
            out = bytes_changed(out, lot)
        elif how < 0.4 and len(out) <= most:
            out = atheris.Mutate(out, most)
        return out[:most]

    with tempfile.TemporaryDirectory(prefix="corpus-") as corpus:
        for i, data in enumerate(good):
            (Path(corpus) / str(i)).write_bytes(data)
        atheris.Setup([words[0], *words[2:], corpus], one, custom_mutator=mutate)
        atheris.Fuzz()


if __name__ == "__main__":
    main(sys.argv)
