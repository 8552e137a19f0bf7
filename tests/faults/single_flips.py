"""Every single bit of recordings changed, one at a time: what comes out is right, or it is said that it is not.

    cd tests; python -m faults.single_flips [MOST] [SEED] [FOLDER]

MOST flips (default: every bit), spread evenly over three recordings made here, one of an earlier version and eight of the
demo: 1.4 million bits. Not part of the tests: every bit takes more than an hour. A file that kills or holds the reader is
counted as such (the program reads it in a process that may die of it). Prints a line a recording.

FOLDER keeps the recordings and the counts so far, and the next call with it goes on from there.
"""

from __future__ import annotations

import json
import os
import random
import signal
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

import h5py
from recording.streams import stream
from recording.test_recording import write_journal

from telemetry.errors import SidelongError
from telemetry.recording import load as loading
from telemetry.recording.hdf5 import expendable
from telemetry.recording.hdf5.attributes import read_bytes
from telemetry.recording.load import Recording, load
from telemetry.recording.make import make_recording
from telemetry.recording.meta import Meta

AT_ONCE = 2000
LIMIT_S = 10
ROOT = Path(__file__).parents[2]
OTHERS = (
    "tests/recording/layout-3.h5", "recordings/practice-01.h5", "recordings/extreme-01.h5", "recordings/slipping-01.h5",
    "recordings/venue-01.h5", "recordings/venue-07.h5", "recordings/venue-codes-only-23.h5",
    "recordings/venue-reversing-21.h5", "recordings/venue-two-sensors-22.h5",
)  # fmt: skip
"""What is spoilt besides: other columns, stillness, several sensors, codes alone."""
SILENT = "ANOTHER VALUE IN SILENCE"


TABLE = ("rows", "colours", "notes", "rejected", "console", "remarks", "ranges", "units", "lost", "first")


class Right:
    """What a recording says, to be held against what a changed copy of it says."""

    def __init__(self, path: Path) -> None:
        self.run = load(path)
        self.raw, self.packed = list(self.run.raw()), packed(path)

    def is_said_by(self, run: Recording) -> bool:
        """Whether ``run`` says all of it: samples, labels, notes, raw bytes."""
        mine, other = self.run.table, run.table
        same = list(mine.columns) == list(other.columns) and all(
            values.dtype == mine.columns[name].dtype and values.tobytes() == mine.columns[name].tobytes()
            for name, values in other.columns.items()
        )
        same = same and all(getattr(mine, name) == getattr(other, name) for name in TABLE)
        same = same and (run.meta, run.summary) == (self.run.meta, self.run.summary)
        # Unpacked they are the same where they are the same packed; that takes a third of the time.
        return same and (packed(run.path) == self.packed or list(run.raw()) == self.raw)


def packed(path: Path) -> tuple[bytes, ...]:
    """What the raw bytes and their times are unpacked from (and the column of times, which is compared by itself).

    Empty where that cannot be read: the reader itself is asked then.
    """
    try:
        with h5py.File(path, locking=False) as file:
            found = [read_bytes(file.id, name) for name in ("raw_xz", "reads", "sidelong")]
    except (OSError, RuntimeError):
        return ()
    return tuple(one for one in found if one is not None)


class DamageSaidError(Exception):
    """In place of decoding the raw bytes anew, which is nine tenths of the time: damage was found, and is said."""


def told_instead(*_given: object) -> None:
    raise DamageSaidError


def outcome(path: Path, right: Right) -> str:
    """What a changed file gives."""
    try:
        run = load(path)
        if run.damage:
            return "damage is said"
        return "nothing changed" if right.is_said_by(run) else SILENT
    except DamageSaidError:
        return "damage is said"
    except SidelongError:
        return "refused"


def child(path: Path, data: bytes, bits: list[int], right: Right, tell: int) -> None:
    """Try these bits; a line each as it is done, so that what kills it is known."""
    expendable.in_expendable = True
    setattr(loading, "_again", told_instead)  # noqa: B010
    for bit in bits:  # in one process, which may die of any: no process a file
        changed = bytearray(data)
        changed[bit // 8] ^= 1 << bit % 8
        path.write_bytes(changed)
        if hasattr(signal, "alarm"):
            signal.alarm(LIMIT_S)
        said = outcome(path, right)
        os.write(tell, (f"{said} at bit {bit}\n" if said == SILENT else f"{said}\n").encode())


def all_of(path: Path, data: bytes, bits: list[int], right: Right, so_far: Path) -> Counter[str]:
    """Counts of outcomes, each in a process that may die; ``so_far`` holds those of an earlier call."""
    counts: Counter[str] = Counter(json.loads(so_far.read_text()) if so_far.exists() else {})
    bits, told_at = bits[sum(counts.values()) :], time.monotonic()
    while bits:
        told, tell = os.pipe()
        process = os.fork()
        if not process:
            try:
                os.close(told)
                child(path, data, bits[:AT_ONCE], right, tell)
            except BaseException as error:
                os.write(tell, f"CRASH {type(error).__name__}: {error}\n".encode())
            os._exit(0)
        os.close(tell)
        with os.fdopen(told) as lines:
            done = lines.read().splitlines()
        os.waitpid(process, 0)
        counts.update(done)
        if len(done) < len(bits[:AT_ONCE]) and not (done and done[-1].startswith("CRASH")):
            counts["killed or held the process that reads"] += 1
            done.append("")
        bits = bits[len(done) :]
        so_far.write_text(json.dumps(counts))
        if time.monotonic() > told_at + 60:
            told_at = time.monotonic()
            print(f"  {len(bits):,} bits left; {counts[SILENT]} in silence", flush=True)
    return counts


def made(path: Path, rows: int) -> Path:
    """A recording of so many rows; one that is there stays, for its times are of when it was made."""
    if path.exists():
        return path
    meta = Meta(name="flips", truth=None, tags=("a",), remarks="what is said of it", simulated=True)
    return make_recording(write_journal(path, [*stream(rows), b"1,no\n", b"> prompt\n"], meta))[0]


def main(most: int = 0, seed: int = 1, kept: Path | None = None) -> None:
    """Make the recordings, change them, print the counts."""
    lot, counts = random.Random(seed), Counter[str]()
    with tempfile.TemporaryDirectory(dir="/dev/shm" if Path("/dev/shm").is_dir() else None) as place:
        folder = Path(place)
        if kept is not None:
            kept.mkdir(parents=True, exist_ok=True)
        files: list[tuple[str, bytes, Right]] = []
        here = [made((kept or folder) / f"{rows}.h5", rows) for rows in (60, 300, 800)]
        for path in [*here, *(ROOT / name for name in OTHERS)]:
            files.append((path.name, path.read_bytes(), Right(path)))
        total = sum(len(data) * 8 for _, data, _ in files)
        for name, data, right in files:
            bits = list(range(len(data) * 8))
            if most:
                bits = lot.sample(bits, min(len(bits), most * len(bits) // total))
            found = all_of(folder / "changed.h5", data, bits, right, (kept or folder) / f"{name}.{most}.{seed}.json")
            print(f"{name}: {sum(found.values()):,} of {len(data) * 8:,} bits: {dict(sorted(found.items()))}", flush=True)
            counts += found
    print(f"{sum(counts.values()):,} of {total:,} single bits: {dict(sorted(counts.items()))}")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:3]), *map(Path, sys.argv[3:4]))
