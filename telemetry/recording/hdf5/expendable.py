"""Files of others are first read in a process that may die of them.

HDF5 is a large library in C, and a crafted file can crash it or hold it for ever. So a file that this computer does not know
yet is read once by a process of its own, with bounded memory and time; one serves for all files and is started anew when it
dies. What it has survived is known by its stamp, which whoever sends a file cannot choose.
"""

from __future__ import annotations

import atexit
import json
import os
import queue
import subprocess
import threading
from collections import deque
from collections.abc import Iterable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any, Final

from telemetry.errors import RecordingError
from telemetry.own_program import TRIAL, own_command
from telemetry.recording.disk.errors import storage_error
from telemetry.recording.disk.holes import held_bytes
from telemetry.recording.disk.stamp import Stamp, plain_stamp
from telemetry.recording.hdf5.waited_lines import WaitedLines

LIMIT_S: Final = 6.0
BYTES_A_SECOND: Final = 4 << 20
"""So much longer may a large file take."""
AHEAD: Final = 32
"""Files that are named to it before it has answered for the first, so that neither waits for the other."""
AHEAD_BYTES: Final = 1 << 14
"""Bytes that name them, about: less than a pipe holds, so that to ask never waits."""
START_S: Final = 30.0
"""How long the process itself may take to begin, on a computer that is busy."""
WORTH_A_PROCESS: Final = 400
"""So many files must each further process have to read, to be worth its start."""
MOST_PROCESSES: Final = 8
MOST_KNOWN: Final = 100_000
DEADLY: Final = "it crashes or never ends the program that reads it, so it is left alone"
TODO: Final = "Take a copy from a backup, or ingest the robot's text again"

_known: set[Stamp] = set()
_known_to_hdf5: set[Stamp] = set()
"""Those of them of which HDF5 itself has read all; of a short recording it is asked for nothing."""
_lock = threading.RLock()
_here: TrialReader | None = None
in_expendable = False
"""Whether this is that process itself."""


def remember(stamps: Iterable[Stamp]) -> None:
    """These files were read well on this computer, or written by ourselves."""
    with _lock:
        if len(_known) > MOST_KNOWN:
            _known.clear()
            _known_to_hdf5.clear()
        _known.update(stamps)


def known_of(paths: Iterable[Path]) -> list[Stamp]:
    """The stamps of those of these files that are known, for another process of this computer to ``remember``."""
    found = []
    for path in paths:
        with suppress(OSError):
            stamp = plain_stamp(path)
            if stamp in _known and stamp is not None:
                found.append(stamp)
    return found


def written_by_us(path: Path) -> None:
    """This file was written by this process, this moment."""
    with suppress(OSError):
        stamp = plain_stamp(path)
        if stamp is not None:
            _survived(stamp, by_hdf5=True)


def assure(path: Path, *, by_hdf5: bool = False) -> None:
    """Return when ``path`` may be read; ``by_hdf5``: by HDF5 itself also where ``RecordingFile`` reads past it.

    Raises RecordingError for what is no plain file or was not survived.
    """
    if in_expendable:
        return
    stamp = _stamp(path)
    if stamp in (_known_to_hdf5 if by_hdf5 else _known):
        return
    with _lock:
        answer = next(shared().each("try by hdf5" if by_hdf5 else "try", [path]))[1]
    if answer is None:
        raise RecordingError(DEADLY, where=str(path), todo=TODO)
    _survived(stamp, by_hdf5=by_hdf5)


def visited(path: Path) -> str:
    """What HDF5 cannot read of all that the file holds, in words; empty where it can. For ``sidelong runs verify``.

    Raises RecordingError as ``assure`` does; afterwards the file is known to HDF5.
    """
    stamp = _stamp(path)
    with _lock:
        answer = next(shared().each("visit", [path]))[1]
    if not isinstance(answer, str):
        raise RecordingError(DEADLY, where=str(path), todo=TODO)
    _survived(stamp, by_hdf5=True)
    return answer


def _stamp(path: Path) -> Stamp:
    try:
        stamp = plain_stamp(path)
    except OSError as error:
        raise storage_error(error, path, reading=True) from error
    if stamp is None and path.is_dir():
        todo = f"Name the recordings in it: {path / '*.h5'}"
        raise RecordingError("this is a folder, and single recordings are wanted", where=str(path), todo=todo)
    if stamp is None:
        raise RecordingError("this is not a file but a pipe, a device or a folder", where=str(path), todo="Name a recording")
    return stamp


def _survived(stamp: Stamp, *, by_hdf5: bool) -> None:
    remember([stamp])
    if by_hdf5:
        with _lock:
            _known_to_hdf5.add(stamp)


def shared() -> TrialReader:
    """The process that serves this one."""
    global _here  # noqa: PLW0603
    with _lock:
        if _here is None:
            _here = TrialReader()
            atexit.register(_here.close)
        return _here


def each_by_several(how: str, paths: list[Path]) -> Iterator[tuple[Path, Any]]:
    """As ``TrialReader.each``, in any order; where there are many by one process a core."""
    count = min(os.cpu_count() or 1, MOST_PROCESSES, 1 + len(paths) // WORTH_A_PROCESS)
    if count < 2:
        with _lock:
            yield from shared().each(how, paths)
        return
    readers = [TrialReader() for _ in range(count)]
    told: queue.Queue[tuple[Path, Any] | None] = queue.Queue(1000)
    stopped = threading.Event()

    def serve(number: int) -> None:
        for one in readers[number].each(how, paths[number::count]):
            if stopped.is_set():
                return
            told.put(one)
        told.put(None)

    threads = [threading.Thread(target=serve, args=(k,), name="listing", daemon=True) for k in range(count)]
    try:
        for thread in threads:
            thread.start()
        while count:
            one = told.get()
            if one is None:
                count -= 1
            else:
                yield one
    finally:
        stopped.set()
        while any(thread.is_alive() for thread in threads):
            with suppress(queue.Empty):
                told.get(timeout=0.01)
        for reader in readers:
            reader.close()


class TrialReader:
    """One expendable process, started when it is first needed and again after each death."""

    def __init__(self) -> None:
        self._process: subprocess.Popen[bytes] | None = None
        self._answers: WaitedLines | None = None

    def each(self, how: str, paths: Iterable[Path]) -> Iterator[tuple[Path, Any]]:
        """(path, what the process says of it), in order; None where it did not survive it."""
        rest = iter(paths)
        asked: deque[tuple[Path, bytes]] = deque()
        if self._process is not None and self._process.poll() is not None:
            self.close()  # it died with nothing to do, which is no file's fault
        while True:
            while len(asked) < AHEAD and sum(len(line) for _, line in asked) < AHEAD_BYTES:
                path = next(rest, None)
                if path is None:
                    break
                asked.append((path, json.dumps([how, os.path.abspath(path)]).encode() + b"\n"))  # noqa: PTH100
                self._ask(asked[-1][1])
            if not asked:
                return
            path = asked[0][0]
            answer = self._answer(path)
            asked.popleft()
            yield path, answer
            if answer is None:
                for _, line in asked:
                    self._ask(line)

    def close(self) -> None:
        """End the process. May be called twice."""
        process, self._process = self._process, None
        if process is not None:
            process.kill()
            process.wait()
            for end in (process.stdin, process.stdout):
                if end is not None:
                    with suppress(OSError):
                        end.close()

    def _ask(self, line: bytes) -> None:
        process = self._process or self._start()
        assert process.stdin is not None
        with suppress(OSError):  # it has died: that shows when it is to answer
            process.stdin.write(line)
            process.stdin.flush()

    def _answer(self, path: Path) -> Any:
        try:
            size = held_bytes(path.stat())
        except OSError:
            size = 0
        line = self._answers.next(LIMIT_S + size / BYTES_A_SECOND) if self._answers is not None else None
        try:
            return json.loads(line or b"")
        except ValueError:
            self.close()
            return None

    def _start(self) -> subprocess.Popen[bytes]:
        root, before = str(Path(__file__).parents[3]), os.environ.get("PYTHONPATH", "")
        environment = os.environ | {
            "PYTHONPATH": os.pathsep.join([root, before] if before else [root]),
            "OPENBLAS_NUM_THREADS": "1",
            "OMP_NUM_THREADS": "1",
        }
        hidden = getattr(subprocess, "CREATE_NO_WINDOW", 0)
        process = subprocess.Popen(
            own_command([TRIAL]), stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, env=environment,
            creationflags=hidden,
        )  # fmt: skip
        assert process.stdout is not None
        self._process, self._answers = process, WaitedLines(process.stdout)
        self._answers.next(START_S)  # says that it has begun: its start is not the first file's time
        return process
