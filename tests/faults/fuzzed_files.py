"""Thousands of spoilt files with their checksums put right: data comes out, or a sentence; nothing else.

    cd tests; python -m faults.fuzzed_files [COUNT] [SEED]

COUNT files (default 13,000): recordings, journals, courses and palettes in turn. Each is read in a process that may die;
prints how many were read, refused, killed their reader or held it for ten seconds.
"""

from __future__ import annotations

import os
import random
import signal
import sys
import tempfile
from collections import Counter
from contextlib import suppress
from pathlib import Path

from recording.streams import stream
from recording.test_recording import write_journal

from faults.spoilers import bytes_changed, journal_changed, recording_changed, text_changed
from telemetry.course import load_course
from telemetry.errors import SidelongError
from telemetry.palette_default import default_palette
from telemetry.palette_file import palette_text, read_palette
from telemetry.recording.disk import storage
from telemetry.recording.hdf5 import expendable
from telemetry.recording.library import look_at
from telemetry.recording.load import load
from telemetry.recording.make import make_recording, recover
from telemetry.recording.meta import Meta

AT_ONCE = 100
LIMIT_S = 10
KINDS = ("recording", "recording", "journal", "course", "palette")


def seeds(folder: Path) -> dict[str, list[bytes]]:
    """Good files of each kind."""
    pieces = [*stream(60, note_at=7), b"1,no\n", b"> prompt\n"]
    runs = []
    for number, rows in enumerate((pieces, [], stream(400))):
        path, _ = make_recording(write_journal(folder / f"{number}.h5", rows, Meta(name="fuzz", truth=None, tags=("a",))))
        runs.append(path.read_bytes())
    runs += [path.read_bytes() for path in sorted((Path(__file__).parents[1] / "recording").glob("layout-*.h5"))]
    journal = write_journal(folder / "j.h5", pieces, Meta(name="fuzz")).read_bytes()
    courses = [path.read_bytes() for path in sorted(Path(storage.__file__).parents[2].glob("sources/synthetic/*.toml"))]
    palettes = [palette_text(default_palette()).encode()]
    return {"recording": runs, "journal": [journal], "course": courses, "palette": palettes}


def read(kind: str, data: bytes, folder: Path) -> str:
    """What becomes of one file."""
    for path in folder.iterdir():
        path.unlink()
    try:
        if kind == "recording":
            (folder / "run.h5").write_bytes(data)
            look_at(folder / "run.h5")
            for _ in load(folder / "run.h5").raw():
                pass
        elif kind == "journal":
            (folder / "run.h5.journal").write_bytes(data)
            for found in recover(folder):
                if found.recording is not None:
                    load(found.recording)
        else:
            (folder / "file.toml").write_bytes(data)
            (load_course if kind == "course" else read_palette)(folder / "file.toml")
    except SidelongError:
        return "refused with a sentence"
    return "read"


def spoilt(kind: str, good: list[bytes], lot: random.Random) -> bytes:
    change = {"recording": recording_changed, "journal": journal_changed}.get(kind, text_changed)
    data = lot.choice(good)
    for _ in range(lot.choice([1, 1, 3])):
        with suppress(Exception):
            data = change(data, lot)
    return bytes_changed(data, lot) if lot.random() < 0.1 else data


def some(first: int, count: int, seed: int, good: dict[str, list[bytes]], folder: Path, tell: int) -> None:
    """In the process that may die: a line a file."""
    expendable.in_expendable = True
    storage._sync = lambda fd: None
    for number in range(first, first + count):
        kind, lot = KINDS[number % len(KINDS)], random.Random(f"{seed} {number}")
        signal.alarm(LIMIT_S)
        try:
            said = f"{kind}: {read(kind, spoilt(kind, good[kind], lot), folder)}"
        except Exception as error:
            said = f"{kind}: ANOTHER ERROR {type(error).__name__} at number {number}"
        os.write(tell, f"{said}\n".encode())


def main(count: int = 13_000, seed: int = 1) -> None:
    """All of them; prints the counts."""
    counts: Counter[str] = Counter()
    with tempfile.TemporaryDirectory(dir="/dev/shm" if Path("/dev/shm").is_dir() else None) as name:
        made, folder = Path(name) / "made", Path(name) / "here"
        made.mkdir()
        folder.mkdir()
        good, at = seeds(made), 0
        while at < count:
            told, tell = os.pipe()
            process = os.fork()
            if not process:
                some(at, min(AT_ONCE, count - at), seed, good, folder, tell)
                os._exit(0)
            os.close(tell)
            with os.fdopen(told) as lines:
                done = lines.read().splitlines()
            os.waitpid(process, 0)
            counts.update(done)
            if len(done) < min(AT_ONCE, count - at):
                counts[f"{KINDS[(at + len(done)) % len(KINDS)]}: killed or held its reader"] += 1
                done.append("")
            at += len(done)
    print(f"{sum(counts.values()):,} spoilt files: {dict(sorted(counts.items()))}")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
