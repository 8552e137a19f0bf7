"""Readers made by the command, run on streams, and what the core itself makes of those streams."""

from __future__ import annotations

import shutil
import subprocess
import sys
from collections.abc import Sequence
from itertools import groupby
from pathlib import Path

import numpy as np
import pytest

from telemetry.cli import main
from telemetry.course import Course
from telemetry.palette import Palette
from telemetry.reading.plan import Plan
from telemetry.reading.strategy import Strategy
from telemetry.replay.header import palette_for, plan_for
from telemetry.replay.runner import Runner
from telemetry.sample import QuantizedColumns, SampleTable
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


def table_of(data: bytes, columns: str | None = None) -> SampleTable:
    """The stream, decoded."""
    decoder, table = Decoder(columns), SampleTable()
    for chunk in [*decoder.feed(data, 0), *decoder.finish()]:
        table.append(chunk)
    return table


def as_recorded(data: bytes, columns: str) -> SampleTable:
    """The stream as it is recorded: by its own header, and only where it has none by the named ``columns``."""
    table = table_of(data)
    return table if table.rows else table_of(data, columns)


def on_the_computer(
    table: SampleTable, strategy: Strategy, course: Course, palette: Palette | None = None, written: str = ""
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


EVENTS_PY = """
import sys
sys.path.insert(0, sys.argv[1])
from reader import Reader, SENSORS
FIELDS = ("t", "d", "v", "h", "refl", "red", "green", "blue", "code")

class Told(Reader):
    def enter(self, event):
        print(self.row, event)

reader = Told()
reader.row = 0
for line in sys.stdin:
    words = line.split()
    if not words:
        reader.finish()
        reader.begin()
        reader.row = 0
        print()
        continue
    for k in range(len(SENSORS)):
        for i in range(9):
            setattr(reader.moments[k], FIELDS[i], int(words[10 * k + i]))
    reader.notes = [int(words[9])] if words[9] != "0" else []
    reader.step()
    reader.row += 1
"""
EVENTS_C = """
#include <stdio.h>
#include <string.h>
#include "reader.h"
static long row = 0;
static void tell(int32_t event) { printf("%ld %ld\\n", row, (long)event); }
int main(void)
{
    char line[400 * READER_SENSORS], *at;
    reader_begin();
    while (fgets(line, sizeof line, stdin)) {
        int k, used;
        if (line[0] == '\\n') {
            reader_finish(tell);
            reader_begin();
            row = 0;
            printf("\\n");
            continue;
        }
        at = line;
        for (k = 0; k < READER_SENSORS; k++) {
            int v[10], i;
            int32_t event;
            reader_sample now;
            for (i = 0; i < 10; i++) { if (sscanf(at, "%d%n", &v[i], &used) != 1) return 1; at += used; }
            now.t = v[0]; now.d = v[1]; now.v = v[2]; now.h = v[3]; now.refl = v[4];
            now.red = v[5]; now.green = v[6]; now.blue = v[7]; now.code = v[8]; now.note = v[9];
            event = reader_step(k, &now);
            if (event) tell(event);
        }
        row++;
    }
    return 0;
}
"""
SANITIZED = ("-std=c99", "-Wall", "-Wextra", "-Werror", "-pedantic", "-fsanitize=undefined,address", "-fno-sanitize-recover")


def rows_text(streams: Sequence[Sequence[Sequence[Sequence[int]]]]) -> bytes:
    """Streams of rows as text, an empty line behind each."""
    lines = []
    for stream in streams:
        lines += [" ".join(str(value) for row in sample for value in row) for sample in stream]
        lines.append("")
    return ("\n".join(lines) + "\n").encode()


def events_in(plan: Plan, stream: Sequence[Sequence[Sequence[int]]]) -> list[tuple[int, int]]:
    """What the core makes of a stream of rows: (row, event), confidences included."""
    plan.reset()
    wholes = []
    for k in range(len(plan.chains)):
        table = np.array([sample[k] for sample in stream], dtype=np.int64)
        names = ("t", "d", "v", "h", "refl", "red", "green", "blue", "code")
        wholes.append(QuantizedColumns(**{name: np.ascontiguousarray(table[:, i]) for i, name in enumerate(names)}))
    notes = {row: sample[0][9] for row, sample in enumerate(stream) if sample[0][9]}
    events = [(row, event) for row, _, event in plan.run(wholes, notes, 0, len(stream))]
    return events + [(len(stream), event) for _, event in plan.finish()]


def events_said(out: bytes) -> list[list[tuple[int, int]]]:
    """What a harness printed, stream by stream."""
    found: list[list[tuple[int, int]]] = [[]]
    for line in out.decode().splitlines():
        if line.strip():
            row, event = line.split()
            found[-1].append((int(row), int(event)))
        else:
            found.append([])
    return found[:-1]
