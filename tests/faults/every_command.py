"""Every call by which a command changes a folder fails once: nothing that was readable before is lost.

    cd tests; python -m faults.every_command [STRIDE]

In the manner of SQLite's tests of I/O errors and full disks: the first call fails, then the second, until the command gets
through; each command alone, and with a second program beside it that labels the same recordings all the time. Prints how
many calls failed, and ends at the first after which anything was gone.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import io
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from recording.streams import stream
from recording.test_recording import write_journal

from faults.faulty_system import Failing, failing_system
from telemetry.cli import main as sidelong
from telemetry.errors import EXIT_BUG
from telemetry.recording.load import load
from telemetry.recording.make import make_recording, recover
from telemetry.recording.meta import Meta

COURSE = '[course]\nname = "Row"\n[[slot]]\nname = "tag"\ncolours = ["rust", "leaf"]\n'
COMMANDS = {
    "runs list": ["runs", "list", "runs"],
    "runs tag": ["runs", "tag", "wet", "runs/a.h5", "runs/b.h5"],
    "runs rename": ["runs", "rename", "other", "runs/a.h5"],
    "runs note": ["runs", "note", "lamp was off", "runs/b.h5"],
    "runs truth": ["runs", "truth", "leaf", "--course", "course.toml", "runs/a.h5"],
    "ingest": ["ingest", "text", "-o", "runs/new.h5"],
    "export": ["export", "runs/a.h5", "-o", "a.csv"],
    "export parquet": ["export", "runs/a.h5", "-o", "a.parquet"],
    "export --back": ["export", "--back", "kept.csv", "-o", "back.h5"],
    "compare": ["compare", "runs/a.h5", "runs/b.h5", "--strategy", "hold", "--json", "out.json", "--junit", "out.xml"],
    "guard --keep": ["guard", "runs/a.h5", "--keep", "agreed.txt", "--strategy", "hold"],
    "report": ["report", "runs/a.h5", "-o", "page.html"],
    "emitter": ["emitter", "-o", "emitter.py"],
}
BESIDE = """
import sys
from pathlib import Path
from telemetry.errors import SidelongError
from telemetry.recording.library import entries
from telemetry.recording.relabel import relabel
from dataclasses import replace
number = 0
while True:
    for name in ("a.h5", "b.h5"):
        number += 1
        try:
            relabel(Path(sys.argv[1]) / name, lambda meta: replace(meta, light=f"lamp {number}"))
            entries(Path(sys.argv[1]))
        except SidelongError:
            pass
"""


@dataclass
class Count:
    """What came of one command."""

    failed: int = 0
    said: int = 0
    calls: int = 0


def prepare(place: Path) -> None:
    """A folder as a team has it: two runs, a capture that was broken off, files of their own."""
    runs = place / "runs"
    runs.mkdir(parents=True)
    for name, rows in (("a", 120), ("b", 60)):
        make_recording(write_journal(runs / f"{name}.h5", stream(rows), Meta(name=name, course=COURSE, truth=("rust",))))
    write_journal(runs / "left.h5", stream(40), Meta(name="left"), end=False)
    (place / "course.toml").write_text(COURSE)
    (place / "text").write_bytes(b"".join(stream(50)))
    (place / "agreed.txt").write_text("what was agreed on before\n")
    (place / "out.json").write_text("{}")
    for name in ("thesis.odt", "film.mp4.part", "runs/theirs.journal", "runs/photo.h5.part"):
        (place / name).write_bytes(b"of others")
    with quiet():
        assert sidelong(["export", str(runs / "a.h5"), "-o", str(place / "kept.csv")]) == 0


@contextlib.contextmanager
def quiet() -> Iterator[io.StringIO]:
    said = io.StringIO()
    with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(said):
        yield said


def held(place: Path) -> dict[str, str]:
    """What can be read there: the stream of each recording, the bytes of everything else."""
    recover(place / "runs")
    out = {}
    for path in sorted(place.rglob("*")):
        name = str(path.relative_to(place))
        if path.is_dir() or path.name.startswith(".sidelong-"):
            continue
        if path.suffix == ".h5":
            run = load(path)
            assert not run.damage or path.name in {"left.h5", "new.h5"}, (name, run.damage)
            times = run.table.columns["t_us"].tobytes() if run.table.rows else b""
            data = b"".join(data for _, data in run.raw()) + times
        else:
            data = path.read_bytes()
        out[name] = hashlib.sha256(data).hexdigest()
    return out


def lost(before: dict[str, str], after: dict[str, str], words: list[str]) -> list[str]:
    """What was readable and is not, or says another thing; what the command was told to write may be new, never half."""
    written = {"agreed.txt", "out.json", "out.xml"} & set(words)
    return [name for name, was in before.items() if after.get(name) != was and name not in written]


def one(name: str, made: Path, at: int, number: int, beside: bool) -> tuple[Failing, bool]:
    """One try in a fresh copy of the folder; whether an error was said."""
    words = COMMANDS[name]
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / "place"
        shutil.copytree(made, place)
        before = held(Path(shutil.copytree(made, Path(folder) / "as it was")))
        failing = Failing(place, at, number)
        here = Path.cwd()
        other = subprocess.Popen([sys.executable, "-c", BESIDE, str(place / "runs")]) if beside else None
        os.chdir(place)
        try:
            with quiet() as said, failing_system(failing):
                code = sidelong(words)
        finally:
            os.chdir(here)
            if other is not None:
                other.kill()
                other.wait()
        assert code != EXIT_BUG, (name, failing.failed, said.getvalue())
        gone = lost(before, held(place), words)
        assert not gone, (name, at, failing.failed, gone, said.getvalue())
        if not code and failing.failed:
            # It got through all the same: then all that it was to make is there.
            assert all((place / word).exists() for flag, word in pairwise(words)
                       if flag in {"-o", "--keep", "--json", "--junit"}), (name, at, failing.failed)  # fmt: skip
        for wanted in ("agreed.txt", "out.json"):
            assert (place / wanted).stat().st_size, (name, at, failing.failed, wanted)
        return failing, bool(code)


def every_call(name: str, made: Path, *, stride: int = 1, first: int = 0, beside: bool = False) -> Count:
    """Each ``stride``-th call of a command fails, until none is left."""
    count, at = Count(), first
    while True:
        failing, said = one(name, made, at, (errno.ENOSPC, errno.EIO)[at % 2], beside)
        count.calls = max(count.calls, failing.calls)
        if not failing.failed:
            return count
        count.failed += 1
        count.said += said
        at += stride


def main(stride: int = 1) -> None:
    """All commands, alone and with a second program beside; prints the figures."""
    with tempfile.TemporaryDirectory() as name:
        made = Path(name) / "made"
        prepare(made)
        for beside in (False, True):
            total = 0
            for command in COMMANDS:
                count = every_call(command, made, stride=stride if not beside else 3 * stride, beside=beside)
                total += count.failed
                print(f"{command}: {count.failed} calls failed, {count.said} of them said; nothing lost", flush=True)
            print(f"{'with a second program beside' if beside else 'alone'}: {total} calls failed, nothing lost", flush=True)


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
