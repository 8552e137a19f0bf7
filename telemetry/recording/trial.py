"""The expendable process: reads what is named to it on standard input and says what became of it, a line of JSON each.

Started by ``hdf5/expendable.py``; it ends when its input does, which is when whoever started it ends, however that happens.
"""

from __future__ import annotations

import json
import os
import signal
import sys
from pathlib import Path
from typing import Any, BinaryIO

from telemetry.errors import EXIT_OK, SidelongError
from telemetry.recording.disk.limits import take_limits
from telemetry.recording.hdf5 import expendable
from telemetry.recording.hdf5.reader import RecordingFile
from telemetry.recording.hdf5.visit import visit
from telemetry.recording.library import look_at, plain_entry


def answer(how: str, path: Path) -> Any:
    """What is said of one file: for ``look`` its entry in a list, for ``try`` only that it was survived.

    ``try by hdf5``: nothing of it is read past HDF5. For ``visit`` what any program with HDF5 would fail at.
    """
    if how == "look":
        return plain_entry(look_at(path))
    if how == "visit":
        return visit(path)
    try:
        file = RecordingFile(path, by_hdf5=how == "try by hdf5")
    except SidelongError as error:
        return error.what
    try:
        file.try_all(as_used=True)
    finally:
        file.close()
    return ""


def main(asked: BinaryIO, told: BinaryIO) -> None:
    """Answer until nobody asks any more."""
    expendable.in_expendable = True
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the business of who started it
    take_limits()
    told.write(b"{}\n")
    told.flush()
    for line in asked:
        how, name = json.loads(line)
        try:
            said = answer(how, Path(name))
        except Exception as error:  # the file's fault, whatever it is
            said = {"path": name, "state": "damaged", "problem": f"it cannot be read ({type(error).__name__})"}
        told.write(json.dumps(said).encode() + b"\n")
        told.flush()


def serve() -> int:
    """Answer on what was standard output; what a library prints must not be taken for an answer."""
    answers = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, sys.stdout.fileno())
    os.close(nowhere)
    main(sys.stdin.buffer, answers)
    return EXIT_OK
