"""Pairs of signals, as a closing terminal sends them, at random moments of a capture. Prints what became of each.

    cd tests; python -m faults.pairs_of_signals [PAIRS] [SEED]

A pair passes when the capture has ended within ten seconds and every byte that its journal held is in a recording (or in a
journal that the next start makes one of).
"""

from __future__ import annotations

import random
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

from telemetry.recording.load import load
from telemetry.recording.make import recover

LIMIT_S = 10.0
COMMAND = [sys.executable, "-m", "telemetry.cli", "capture", "robot:practice", "--quiet", "-o"]
NUMBERS = [signal.SIGINT, signal.SIGTERM, *([signal.SIGHUP] if hasattr(signal, "SIGHUP") else [])]


def one_pair(folder: Path, random_: random.Random) -> str:
    """What became of one capture that got two signals."""
    path = folder / "run.h5"
    capture = subprocess.Popen([*COMMAND, str(path)], stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    journal = folder / "run.h5.journal"
    until = time.monotonic() + 30
    while not (journal.exists() and journal.stat().st_size > 2000) and capture.poll() is None and time.monotonic() < until:
        time.sleep(0.01)
    time.sleep(random_.random() * 0.3)
    least = journal.stat().st_size if journal.exists() else 0
    first, second = random_.choice(NUMBERS), random_.choice(NUMBERS)
    capture.send_signal(first)
    time.sleep(random_.choice((0.0, 0.0, random_.random() * 0.02, random_.random() * 0.3)))
    if capture.poll() is None:
        capture.send_signal(second)
    try:
        capture.communicate(timeout=LIMIT_S)
    except subprocess.TimeoutExpired:
        capture.kill()
        capture.communicate()
        return f"hangs ({first.name}, {second.name})"
    how = "closed" if path.exists() else "left to the next start"
    recover(folder)
    kept = sum(len(data) for _, data in load(path).raw()) if path.exists() else 0
    return how if kept >= least * 0.5 > 0 else f"LOST ({kept} bytes of a journal of {least})"


def main(pairs: int = 500, seed: int = 1) -> None:
    """Run them and print the counts."""
    random_ = random.Random(seed)
    counts: Counter[str] = Counter()
    for _ in range(pairs):
        with tempfile.TemporaryDirectory() as folder:
            counts[one_pair(Path(folder), random_)] += 1
    print(f"{pairs} pairs of signals: {dict(counts)}")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
