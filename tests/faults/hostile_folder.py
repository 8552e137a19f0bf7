"""Thousands of files made to do harm, through every command that reads a folder. Prints time, memory and what was judged.

    cd tests; python -m faults.hostile_folder [COPIES]

A copy is 20 files, 4 good runs among them; 250 copies are 5,000. Each command runs as a process of its own; memory is the
greatest that it or a process of its own took.
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from faults import hostile
from telemetry.own_program import own_command


def run(words: list[str], cwd: Path) -> tuple[int, str, float, float]:
    """Exit code, output, seconds, and MB of the largest process so far among all that were run."""
    began = time.monotonic()
    done = subprocess.run(own_command(words), cwd=cwd, capture_output=True, text=True, check=False)
    most = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    return done.returncode, done.stdout, time.monotonic() - began, most


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
        f"{said['stood_still_s'] * 1000:.0f} ms at the longest", flush=True,
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
        files = [str(path) for path in sorted(place.glob("*0.h5"))][:400]
        for words in (
            ["runs", "list", "../runs", "--json"], ["runs", "list", "../runs", "--json"],
            ["compare", "../runs", "--strategy", "hold", "--json", "-"],
            ["guard", "../runs", "--keep", "agreed.txt", "--strategy", "hold"], ["guard", "--check", "agreed.txt"],
            ["runs", "verify", "../runs"], ["export", *files],
            ["report", "../runs", "--strategy", "hold", "-o", "page.html"],
        ):  # fmt: skip
            code, said, seconds, most = run(words, out)
            judged = ""
            if "--json" in words:
                held = json.loads(said)
                found = held if isinstance(held, list) else held["runs"]
                names = {Path(one.get("path") or one["recording"]).name for one in found
                         if one.get("state", "whole") == "whole"}  # fmt: skip
                judged = f", {len(good & names):,} of {len(good):,} good runs"
            print(f"{' '.join(words[:2])}: exit {code}, {seconds:.1f} s, {most:.0f} MB{judged}", flush=True)
        in_the_window(place, good)
        after = {path.name: path.lstat().st_size for path in outside.iterdir() if path not in {place, out}}
        print("written outside:", "nothing" if before == after else sorted(set(after.items()) ^ set(before.items())))


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
