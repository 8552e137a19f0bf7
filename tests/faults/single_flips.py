"""Every single bit of recordings changed, one at a time: what comes out is right, or it is said that it is not.

    cd tests; python -m faults.single_flips [MOST] [SEED]

MOST flips (default: every bit), spread evenly over three recordings of this layout. Not part of the tests: every bit takes
an hour. A file that kills or holds the reader is counted as such (the program reads it in a process that may die of it).
"""

from __future__ import annotations

import hashlib
import json
import os
import random
import signal
import sys
import tempfile
from collections import Counter
from pathlib import Path

from recording.streams import stream
from recording.test_recording import write_journal

from telemetry.errors import SidelongError
from telemetry.recording.hdf5 import expendable
from telemetry.recording.load import Recording, load
from telemetry.recording.make import make_recording
from telemetry.recording.meta import Meta

AT_ONCE = 500
LIMIT_S = 10


def digest(run: Recording) -> str:
    """All that a recording says."""
    held = hashlib.sha256()
    for name, values in run.table.columns.items():
        held.update(name.encode() + values.tobytes())
    table, plain = run.table, {"meta": run.meta.to_dict(), "summary": run.summary.to_dict()}
    held.update(repr((table.rows, table.colours, table.notes, table.rejected, table.console, table.units)).encode())
    held.update(json.dumps(plain, sort_keys=True).encode())
    for arrival_us, data in run.raw():
        held.update(arrival_us.to_bytes(8, "big", signed=True) + data)
    return held.hexdigest()


def outcome(path: Path, right: str) -> str:
    """What a changed file gives."""
    try:
        run = load(path)
        if run.damage:
            return "damage is said"
        return "nothing changed" if digest(run) == right else "ANOTHER VALUE IN SILENCE"
    except SidelongError:
        return "refused"


def child(path: Path, data: bytes, bits: list[int], right: str, tell: int) -> None:
    """Try these bits; a line each as it is done, so that what kills it is known."""
    expendable.in_expendable = True
    for bit in bits:
        changed = bytearray(data)
        changed[bit // 8] ^= 1 << bit % 8
        path.write_bytes(changed)
        if hasattr(signal, "alarm"):
            signal.alarm(LIMIT_S)
        os.write(tell, f"{outcome(path, right)}\n".encode())


def all_of(path: Path, data: bytes, bits: list[int], right: str) -> Counter[str]:
    """Counts of outcomes, each in a process that may die."""
    counts: Counter[str] = Counter()
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
    return counts


def main(most: int = 0, seed: int = 1) -> None:
    """Make the recordings, change them, print the counts."""
    lot, counts = random.Random(seed), Counter[str]()
    meta = Meta(name="flips", truth=None, tags=("a",), remarks="what is said of it", simulated=True)
    with tempfile.TemporaryDirectory(dir="/dev/shm" if Path("/dev/shm").is_dir() else None) as name:
        folder = Path(name)
        files = []
        for rows in (60, 300, 800):
            path, _ = make_recording(write_journal(folder / f"{rows}.h5", [*stream(rows), b"1,no\n", b"> prompt\n"], meta))
            files.append((path.read_bytes(), digest(load(path))))
        total = sum(len(data) * 8 for data, _ in files)
        for data, right in files:
            bits = list(range(len(data) * 8))
            if most:
                bits = lot.sample(bits, min(len(bits), most * len(bits) // total))
            counts += all_of(folder / "changed.h5", data, bits, right)
    print(f"{sum(counts.values()):,} of {total:,} single bits: {dict(counts)}")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
