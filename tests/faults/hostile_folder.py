"""Thousands of files made to do harm, through every command that reads a folder. Prints time, memory and what was judged.

    cd tests; python -m faults.hostile_folder [COPIES]

A copy is 20 files, 4 good runs among them; 250 copies are 5,000. Each command runs as a process of its own, on a terminal
(so not on Windows); memory is the greatest that it or a process of its own took.
"""

from __future__ import annotations

import contextlib
import html
import json
import os
import pty
import resource
import select
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

from faults import hostile
from telemetry.own_program import own_command
from telemetry.replay.baseline.file import read_agreed
from telemetry.report.table import printable


class Ran(NamedTuple):
    """``silent_s``: the longest time without a sign of life. ``most_mb``: of the largest process so far, of all that ran."""

    code: int
    said: str
    errors: str
    seconds: float
    silent_s: float
    most_mb: float


def run(words: list[str], cwd: Path) -> Ran:
    """Run a command on a terminal, which is where progress is shown; what it prints goes to a file."""
    master, slave = pty.openpty()
    began = last = time.monotonic()
    silent, errors = 0.0, b""
    with tempfile.TemporaryFile() as out:
        process = subprocess.Popen(own_command(words), cwd=cwd, stdin=subprocess.DEVNULL, stdout=out, stderr=slave)
        os.close(slave)
        size = 0
        while process.poll() is None:
            ready, _, _ = select.select([master], [], [], 0.1)
            now, written = time.monotonic(), os.fstat(out.fileno()).st_size
            if ready:
                with contextlib.suppress(OSError):
                    errors += os.read(master, 1 << 16)
            if ready or written != size:
                silent, last, size = max(silent, now - last), now, written
        silent = max(silent, time.monotonic() - last)
        os.close(master)
        out.seek(0)
        said = out.read().decode("utf-8", "replace")
    most = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    return Ran(process.returncode, said, errors.decode("utf-8", "replace"), time.monotonic() - began, silent, most)


def judged(words: list[str], ran: Ran, out: Path, place: Path) -> set[str]:
    """Names of the runs that a command took for whole, from what it printed or wrote."""
    if "--json" in words:
        held = json.loads(ran.said)
        found = held if isinstance(held, list) else held["runs"]
        return {Path(one.get("path") or one["recording"]).name for one in found if one.get("state", "whole") == "whole"}
    if words[:2] == ["guard", "--check"]:  # what is agreed was read again, where no difference is named
        kept = {Path(name).name for _, name in read_agreed(out / "agreed.txt").runs}
        return {name for name in kept if printable(name) not in ran.said}
    if words[0] == "guard":
        return {Path(name).name for _, name in read_agreed(out / "agreed.txt").runs}
    if words[:2] == ["runs", "verify"]:
        damaged = {line.split(": damaged: ")[0] for line in ran.said.splitlines() if ": damaged: " in line}
        return {path.name for path in place.iterdir() if printable(f"../runs/{path.name}") not in damaged}
    if words[0] == "export":
        return {path.with_suffix(".h5").name for path in place.glob("*.csv") if path.stat().st_size > 1000}
    page = (out / "page.html").read_text()
    return {path.name for path in place.iterdir() if html.escape(printable(path.stem)) in page}


def in_the_window(place: Path, good: set[str]) -> None:
    """The window opens the folder; prints what it judged."""
    began = time.monotonic()
    words = [sys.executable, "-m", "faults.hostile_window", str(place)]
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    most = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    try:
        said = json.loads(done.stdout.splitlines()[-1])
    except (ValueError, IndexError):
        print(f"window: exit {done.returncode}: {done.stderr[-500:]}")
        return
    print(
        f"window: exit {done.returncode}, {time.monotonic() - began:.1f} s, {most:.0f} MB, listed after "
        f"{said['listed_s']:.1f} s, {len(good & set(said['judged'])):,} of {len(good):,} good runs judged after "
        f"{said['judged_s']:.1f} s, {said['damaged']:,} named as damaged; stood still for "
        f"{said['stood_still_s'] * 1000:.0f} ms at the longest, {said['stood_still_cpu_s'] * 1000:.0f} ms of them at work",
        flush=True,
    )  # fmt: skip


def main(copies: int = 250) -> None:
    """Make the folder, run the commands, print what happened."""
    with tempfile.TemporaryDirectory() as name:
        outside = Path(name)
        place = outside / "runs"
        good = hostile.make(place, copies)
        count = sum(1 for _ in os.scandir(place))
        before = {path.name: path.lstat().st_size for path in outside.iterdir() if path != place}
        print(f"{count:,} files, {len(good):,} good runs among them", flush=True)
        out = outside / "out"
        out.mkdir()
        files = [str(path) for path in sorted(place.glob("*.h5"))]
        for words in (
            ["runs", "list", "../runs", "--json"], ["runs", "list", "../runs", "--json"],
            ["compare", "../runs", "--strategy", "hold", "--json", "-"],
            ["guard", "../runs", "--keep", "agreed.txt", "--strategy", "hold"], ["guard", "--check", "agreed.txt"],
            ["runs", "verify", "../runs"], ["export", *files],
            ["report", "../runs", "--strategy", "hold", "-o", "page.html"],
        ):  # fmt: skip
            ran = run(words, out)
            mine = good & judged(words, ran, out, place)
            print(
                f"{' '.join(words[:2])[:20]}: exit {ran.code}, {ran.seconds:.1f} s, at the longest {ran.silent_s:.1f} s "
                f"without a sign of life, {ran.most_mb:.0f} MB, {len(mine):,} of {len(good):,} good runs", flush=True,
            )  # fmt: skip
        in_the_window(place, good)
        after = {path.name: path.lstat().st_size for path in outside.iterdir() if path not in {place, out}}
        print("written outside:", "nothing" if before == after else sorted(set(after.items()) ^ set(before.items())))


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
