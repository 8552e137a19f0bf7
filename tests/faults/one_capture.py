"""One short capture into a folder, with a step of the file layer at which the process dies. It forks: run it by itself.

    python -m faults.one_capture FOLDER       every step in turn; prints one line of JSON a step

Each capture has its own folder FOLDER/STEP. The line says how the child ended, and how many bytes its journal surely had.
"""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path

from recording.streams import stream

import telemetry.recording.load  # noqa: F401 - imported before forking
from faults.faulty_disk import FaultyDisk, dies
from faults.paced import Paced
from telemetry.recording.capture import Capture
from telemetry.recording.meta import Meta

PIECES = stream(24, note_at=12)


def capture(folder: Path, disk: FaultyDisk) -> None:
    """All of it, as the command does it."""
    running = Capture(Paced(PIECES), folder / "run.h5", Meta(name="short"), disk=disk, sync_s=0.005)
    running.start()
    while running.running:
        running.wait(0.1)
    running.close()


def die_at(folder: Path, step: int) -> tuple[int, int]:
    """(exit code, journal bytes that had been written when it died)."""
    folder.mkdir(parents=True)
    told, tell = os.pipe()
    child = os.fork()
    if not child:
        try:
            capture(folder, FaultyDisk(step, dies, lambda size: os.write(tell, b"%d\n" % size) and None))
            os._exit(0)
        except BaseException:
            os._exit(1)
    os.close(tell)
    with os.fdopen(told) as lines:
        sizes = lines.read().split()
    _, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status), int(sizes[-1]) if sizes else 0


def main(folder: Path, stride: int = 1) -> None:
    """Every ``stride``-th step until a capture gets through."""
    step = 0
    while True:
        code, size = die_at(folder / str(step), step)
        print(json.dumps({"step": step, "code": code, "journal_bytes": size}), flush=True)
        if code != 77:
            return
        step += stride


if __name__ == "__main__":
    main(Path(sys.argv[1]), *map(int, sys.argv[2:]))
