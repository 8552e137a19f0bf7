"""Readers made by the command, run on streams, and what the core itself makes of those streams."""

from __future__ import annotations

import shutil
import subprocess
import sys
from collections.abc import Sequence
from itertools import groupby
from pathlib import Path

import pytest

from telemetry.cli import main
from telemetry.course import Course
from telemetry.palette import Palette
from telemetry.reading.strategy import Strategy
from telemetry.replay.header import palette_for, plan_for
from telemetry.replay.runner import Runner
from telemetry.sample import Table
from telemetry.stream.decoder import Decoder

RECORDINGS = Path(__file__).parents[2] / "recordings"
MICROPYTHON = Path(sys.executable).with_name("micropython")
needs_micropython = pytest.mark.skipif(not MICROPYTHON.exists(), reason="no MicroPython here")
Said = list[tuple[int, str, str]]
"""Robot time in ms, slot, colour."""


def made(folder: Path, *words: str) -> Path:
    """The folder of a reader made by ``sidelong reader WORDS``."""
    assert main(["reader", *words, "-o", str(folder)]) == 0
    return folder


def on_micropython(folder: Path, data: bytes) -> Said:
    """What check.py says of a stream."""
    done = run_words([MICROPYTHON, folder / "check.py"], data)
    assert done.returncode == 0, done.stdout + done.stderr
    return settled(said(done.stdout))


def said(out: bytes) -> Said:
    """The lines of a check program."""
    found = []
    for line in out.decode().splitlines():
        time, _, rest = line.removeprefix("!").partition(",read,")
        slot, _, colour = rest.rpartition(",")
        found.append((int(time), slot, colour))
    return found


def table_of(data: bytes, columns: str | None = None) -> Table:
    """The stream, decoded."""
    decoder, table = Decoder(columns), Table()
    for chunk in [*decoder.feed(data, 0), *decoder.finish()]:
        table.append(chunk)
    return table


def on_the_computer(
    table: Table, strategy: Strategy, course: Course, palette: Palette | None = None, written: str = ""
) -> Said:
    """What the core reads, in the order of deciding."""
    runner = Runner(plan_for(strategy, course, palette_for(table, course, palette, written), table))
    runner.advance(table)
    runner.finish()
    found: Said = []
    for stretch in runner.stretches:
        for one in stretch.readings:
            if one.slot is not None:
                found.append((one.t_ms or 0, course.slots[one.slot].name, one.colour or "empty"))
    return settled(found)


def settled(found: Said) -> Said:
    """What was decided at one time, in the order of the slots' names: a check program says it in course order."""
    return [one for _, together in groupby(found, key=lambda one: one[0]) for one in sorted(together)]


def c_compiler() -> str | None:
    """A C compiler, None where there is none."""
    return shutil.which("gcc") or shutil.which("cc") or shutil.which("clang")


def run_words(words: Sequence[str | Path], data: bytes = b"") -> subprocess.CompletedProcess[bytes]:
    """Run a program on a stream."""
    return subprocess.run([str(word) for word in words], input=data, capture_output=True, timeout=100, check=False)
