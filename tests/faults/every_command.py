"""Every call by which a command reads or changes a folder fails once: nothing that was readable before is lost.

    cd tests; python -m faults.every_command [STRIDE] [alone|beside] [COMMAND ...]

In the manner of SQLite's tests of I/O errors and full disks: the first call fails, then the second, until the command gets
through; each command alone, and with a second program beside it that labels the same recordings all the time. Prints how
many calls failed, of which kinds, and ends at the first after which anything was gone, or half a file was there.
"""

from __future__ import annotations

import ast
import contextlib
import errno
import hashlib
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from multiprocessing import get_context
from pathlib import Path
from xml.etree import ElementTree as Xml

from faults.commands_tried import COMMANDS, Tried, prepare, quiet
from faults.faulty_system import Failing, failing_system
from telemetry.cli import main as sidelong
from telemetry.errors import EXIT_BUG
from telemetry.palette_file import read_palette
from telemetry.recording.load import load
from telemetry.recording.make import recover
from telemetry.replay.baseline.file import read_agreed

WINDOWS = {"window", "screenshots"}
BESIDE = """
import sys
from dataclasses import replace
from pathlib import Path
from telemetry.errors import SidelongError
from telemetry.recording.library import entries
from telemetry.recording.relabel import relabel
number = 0
print(flush=True)
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
    kinds: Counter[str] = field(default_factory=Counter)


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
            assert not run.damage or path.name not in {"a.h5", "b.h5", "like.h5", "back.h5"}, (name, run.damage)
            times = run.table.columns["t_us"].tobytes() if run.table.rows else b""
            data = b"".join(data for _, data in run.raw()) + times
        else:
            data = path.read_bytes()
        out[name] = hashlib.sha256(data).hexdigest()
    return out


def is_whole(path: Path) -> bool:
    """Whether a file that a command wrote is all of such a file."""
    data = path.read_bytes()
    if path.suffix == ".json":
        return isinstance(json.loads(data), dict | list)
    if path.suffix == ".xml":
        return Xml.fromstring(data).tag != ""
    if path.suffix == ".html":
        return data.rstrip().endswith(b"</html>")
    if path.suffix == ".py":
        return bool(ast.parse(data).body)
    if path.suffix == ".png":
        return data.startswith(b"\x89PNG") and data.endswith(b"IEND\xaeB`\x82")
    if path.suffix == ".pdf":
        return data.startswith(b"%PDF") and data.rstrip().endswith(b"%%EOF")
    if path.suffix == ".csv":
        return data.count(b"\n") == 121
    if path.name == "palette.toml":
        return len(read_palette(path).colours) >= 2
    if path.name == "agreed.txt":
        return bool(read_agreed(path).runs)
    return path.suffix in {".h5", ".parquet"} or path.name == "log.txt" or data.endswith(b"\n")


def lost(before: dict[str, str], place: Path, tried: Tried) -> list[str]:
    """What was readable and is not, or says another thing; what the command was told to write may be new, never half."""
    after = held(place)
    changed = [name for name in {**before, **dict.fromkeys(tried.writes)} if after.get(name) != before.get(name)]
    changed = [name for name in changed if name not in tried.moves or before[name] not in after.values()]
    return [name for name in changed if name not in tried.writes or name not in after or not is_whole(place / name)]


@contextlib.contextmanager
def second_program(runs: Path) -> Iterator[None]:
    """Labels the same recordings all the time, and is killed in the middle of it."""
    with subprocess.Popen([sys.executable, "-c", BESIDE, str(runs)], stdout=subprocess.PIPE) as other:
        assert other.stdout is not None
        other.stdout.readline()  # it has begun
        try:
            yield
        finally:
            assert other.poll() is None, "it has failed"
            other.kill()


def user_of(tried: Tried, place: Path, failing: Failing) -> contextlib.AbstractContextManager[set[str]]:
    """Somebody who uses what is opened, where that is a window; what is left of that to be done."""
    if tried.words[0] != "window":
        return contextlib.nullcontext(set())
    from faults.at_the_window import somebody_at_the_window

    return somebody_at_the_window(place, failing)


def one(name: str, made: Path, before: dict[str, str], at: int, beside: bool = False) -> tuple[Failing, bool]:
    """One try in a fresh copy of the folder; whether an error was said."""
    tried = COMMANDS[name]
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / "place"
        shutil.copytree(made, place)
        failing = Failing(place, at, (errno.ENOSPC, errno.EIO)[at % 2])
        second = second_program(place / "runs") if beside else contextlib.nullcontext()
        user = user_of(tried, place, failing)
        with second, contextlib.chdir(place), quiet() as said, user as left, failing_system(failing):
            code = sidelong(tried.words)
        assert code != EXIT_BUG, (name, at, failing.failed, said.getvalue())
        assert "Traceback" not in said.getvalue(), (name, at, failing.failed, said.getvalue())
        assert failing.failed or not left, (name, left)
        gone = lost(before, place, tried)
        assert not gone, (name, at, failing.failed, gone, said.getvalue())
        if not code and failing.failed and "goes on" not in said.getvalue():
            # It got through all the same: then all that it was to make is there.
            assert all((place / word).exists() for word in tried.writes), (name, at, failing.failed)
        return failing, bool(code)


def apart(name: str, made: Path, before: dict[str, str], at: int, beside: bool = False) -> tuple[Failing, bool]:
    """As ``one``, in a process of its own: no program makes a hundred windows, and Qt's end does not survive them."""
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    with ProcessPoolExecutor(1, get_context("fork")) as alone:
        return alone.submit(one, name, made, before, at, beside).result()


def everything_before(made: Path) -> dict[str, str]:
    """What is readable before any command, in a copy: looking puts what a capture left in order."""
    with tempfile.TemporaryDirectory() as folder:
        return held(Path(shutil.copytree(made, Path(folder) / "as it was")))


def every_call(name: str, made: Path, *, stride: int = 1, first: int = 0, beside: bool = False) -> Count:
    """Each ``stride``-th call of a command fails, until none is left."""
    count, at, before = Count(), first, everything_before(made)
    while True:
        failing, said = (apart if COMMANDS[name].words[0] in WINDOWS else one)(name, made, before, at, beside)
        count.kinds = max(count.kinds, failing.kinds, key=Counter.total)
        if not failing.failed:
            return count
        count.failed += 1
        count.said += said
        at += stride


def main(stride: int, how: str, names: list[str]) -> None:
    """All commands, alone and with a second program beside; prints the figures."""
    with tempfile.TemporaryDirectory() as folder:
        made = Path(folder) / "made"
        prepare(made)
        for beside in [False] * (how != "beside") + [True] * (how != "alone"):
            total, kinds = Count(), Counter[str]()
            for command in names or COMMANDS:
                began = time.monotonic()
                wide = stride * COMMANDS[command].each
                count = every_call(command, made, stride=wide, beside=beside)
                total.failed, total.said = total.failed + count.failed, total.said + count.said
                kinds += count.kinds
                words = f"{count.failed} of {count.kinds.total()} calls failed, {count.said} of them said; nothing lost"
                print(f"{command}: {words} ({time.monotonic() - began:.0f} s)", flush=True)
            where = "with a second program beside" if beside else "alone"
            print(f"{where}: {total.failed} of {kinds.total()} calls failed, nothing lost; calls: {dict(kinds)}", flush=True)


if __name__ == "__main__":
    words = sys.argv[1:]
    main(int(words[0]) if words else 1, words[1] if len(words) > 1 else "both", words[2:])
