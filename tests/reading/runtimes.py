"""The same chain on every runtime: CPython, with integers that watch their range; written out; compiled; MicroPython.

Each takes a chain of stage objects and rows of whole numbers, and gives the numbers that came out at each step, the steps
at the end of the run included; 0 (nothing) is left out.
"""

from __future__ import annotations

import ast
import copy
import inspect
import shutil
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from telemetry.reading.chain import Chain
from telemetry.reading.compiled import PENDING, Start, function_of
from telemetry.reading.flat import Writer, owners
from telemetry.reading.switch import Switch
from telemetry.reading.watched import Watched
from telemetry.sample import MISSING, QuantizedColumns

Row = tuple[int, ...]
"""t, d, v, h, refl, red, green, blue, code, note."""
Out = list[tuple[int, int]]
"""(row, what came out); rows from ``len(rows)`` on are the steps at the end."""
COLUMNS = ("t", "d", "v", "h", "refl", "red", "green", "blue", "code")
PORTABLE = Path(__file__).parents[2] / "telemetry" / "reading" / "portable"


def whole_of(rows: Sequence[Row]) -> tuple[QuantizedColumns, dict[int, int]]:
    """The rows as columns, and their notes."""
    table = np.array(rows, dtype=np.int64).reshape(len(rows), len(COLUMNS) + 1)
    columns = {name: np.ascontiguousarray(table[:, k]) for k, name in enumerate(COLUMNS)}
    return QuantizedColumns(**columns), {row: int(note) for row, note in enumerate(table[:, -1]) if note}



def on_objects(chain: Chain, rows: Sequence[Row], watched: bool = False) -> Out:
    """Stepped as objects in CPython."""
    chain = copy.deepcopy(chain)
    chain = Chain(chain.sensor, chain.stages, chain.names)
    if watched:
        _watch(chain)
    else:
        chain.reset()
    out: Out = []
    m = chain.moment
    for row, values in enumerate(rows):
        m.t, m.d, m.v, m.h, m.refl, m.red, m.green, m.blue, m.code, m.note = map(Watched, values) if watched else values
        label = -1
        for stage in chain.stages:
            label = stage.step(label, m)
            assert isinstance(label, int), f"{type(stage).__name__} returned {label!r}"
        if label:
            out.append((row, int(label)))
    for phase in (1, 2):
        zeros = 0
        while zeros < 2:
            event = chain.end(phase)
            zeros = 0 if event and not _is_tell(chain) else zeros + 1
            if event:
                out.append((len(rows), int(event)))
    return out


def _is_tell(chain: Chain) -> bool:
    """Does the chain end in one that never says 0? Then two steps a phase are enough."""
    return type(chain.stages[-1]).__name__ == "Tell"


def _watch(chain: Chain) -> None:
    """Let every number of the stages be a watched one, tables too; then set them back to the begin."""
    tables: dict[int, list[int]] = {}
    for owner in owners([chain])[:-1]:
        for name, value in vars(owner).items():
            if isinstance(value, list):
                if id(value) not in tables:
                    tables[id(value)] = value
                    value[:] = map(Watched, value)
            elif isinstance(value, int):
                setattr(owner, name, Watched(value))
    chain.reset()


def on_loop(chain: Chain, rows: Sequence[Row]) -> Out:
    """The written-out loop in CPython; the end of the run on the objects it has brought up to date."""
    chain = copy.deepcopy(chain)
    chain = Chain(chain.sensor, chain.stages, chain.names)
    chain.reset()
    loop = Switch(after=0, least=0).loop([chain], len(rows))
    assert loop is not None, "the chain cannot be written out"
    whole, notes = whole_of(rows)
    half = len(rows) // 2
    events = loop.run([chain], [whole], notes, 0, half) + loop.run([chain], [whole], notes, half, len(rows))
    out = [(row, event) for row, _, event in events]
    for phase in (1, 2):
        zeros = 0
        while zeros < 2:
            event = chain.end(phase)
            zeros = 0 if event and not _is_tell(chain) else zeros + 1
            if event:
                out.append((len(rows), int(event)))
    return out


def on_compiler(chain: Chain, rows: Sequence[Row]) -> Out:
    """Compiled. A chain that never says 0 is compared without the end of its run, which would not end."""
    chain = copy.deepcopy(chain)
    chain = Chain(chain.sensor, chain.stages, chain.names)
    chain.reset()
    source, shape = Writer([chain], plain=False, ending=not _is_tell(chain)).write()
    keepers = owners([chain])
    start = Start(
        np.array([getattr(keepers[k], name) for k, name in shape.numbers], dtype=np.int64),
        tuple(np.array(getattr(keepers[k], name), dtype=np.int64) for k, name in shape.tables),
    )
    whole, notes = whole_of(rows)
    note = np.zeros(len(rows), dtype=np.int64)
    for row, number in notes.items():
        note[row] = number
    out = np.empty((len(rows) + PENDING, 3), dtype=np.int64)
    arrays = (*(getattr(whole, name) for _, name in shape.channels), note)
    count = function_of(source)(len(rows), *arrays, start.numbers, *start.tables, out)
    return [(int(row), int(event)) for row, _, event in out[:count]]


def micropython() -> str | None:
    """The MicroPython of the test dependencies; None where there is none (it has no wheel for this system)."""
    beside = Path(sys.executable).parent / "micropython"
    return str(beside) if beside.exists() else shutil.which("micropython")


SCRIPT = """
import sys
sys.path[:0] = {paths}
import micropython
import time
from moment import Moment
{imports}
{tables}
stages = [{stages}]
rows = {rows}
m = Moment()
out = [0] * (len(rows) + 400)
at = [0] * len(out)
n = 0  # known before the heap is locked: a new name would need room

def step():
    label = -1
    for k in range({count}):
        label = stages[k].step(label, m)
    return label

def run():
    n = 0
    for i in range(len(rows)):
        row = rows[i]
        m.t = row[0]; m.d = row[1]; m.v = row[2]; m.h = row[3]; m.refl = row[4]
        m.red = row[5]; m.green = row[6]; m.blue = row[7]; m.code = row[8]; m.note = row[9]
        label = step()
        if label:
            at[n] = i
            out[n] = label
            n += 1
    for phase in range(1, 3):
        zeros = 0
        while zeros < 2:
            m.d = m.v = m.h = m.refl = m.red = m.green = m.blue = m.code = {missing}
            m.note = 0
            m.end = phase
            label = step()
            zeros = 0 if label and {endless} == 0 else zeros + 1
            if label:
                at[n] = len(rows)
                out[n] = label
                n += 1
    return n

for stage in stages:
    stage.reset()
begun = time.ticks_us()
micropython.heap_lock()
n = run()
micropython.heap_unlock()
print(time.ticks_diff(time.ticks_us(), begun))
print([(at[i], out[i]) for i in range(n)])
"""


def on_micropython(chain: Chain, rows: Sequence[Row], folder: Path) -> Out:
    """In MicroPython with the heap locked: a step that allocates anything fails with a MemoryError."""
    return timed_on_micropython(chain, rows, folder)[1]


def timed_on_micropython(chain: Chain, rows: Sequence[Row], folder: Path) -> tuple[int, Out]:
    """The same, and how many microseconds all steps took together."""
    names: dict[int, str] = {}
    tables, stages, imports, folders = [], [], set(), {str(Path(__file__).parent)}

    def written(owner: Any) -> str:
        """Calls that make it again, from what it keeps under its parameters' names; tables and parts are made first."""
        arguments = []
        for name in _parameters(owner):
            value = getattr(owner, name)
            if isinstance(value, int):
                arguments.append(repr(value))
                continue
            if id(value) not in names:
                text = repr(value) if isinstance(value, list) else written(value)
                names[id(value)] = f"made{len(names)}"
                tables.append(f"{names[id(value)]} = {text}")
            arguments.append(names[id(value)])
        module = type(owner).__module__.rpartition(".")[2]
        imports.add(f"import {module}")
        folders.add(str(Path(inspect.getfile(type(owner))).parent))
        return f"{module}.{type(owner).__name__}({', '.join(arguments)})"

    for stage in chain.stages:
        stages.append(written(stage))
    script = SCRIPT.format(
        paths=[str(PORTABLE), *sorted(folders)], imports="\n".join(sorted(imports)), tables="\n".join(tables),
        stages=", ".join(stages), rows=[tuple(row) for row in rows], count=len(stages), missing=MISSING,
        endless=int(_is_tell(chain)),
    )  # fmt: skip
    file = folder / "chain.py"
    file.write_text(script, encoding="utf-8")
    program = micropython()
    assert program is not None
    words = [program, "-X", "heapsize=64M", str(file)]
    done = subprocess.run(words, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    took_us, found = done.stdout.splitlines()
    return int(took_us), ast.literal_eval(found)


def _parameters(stage: Any) -> list[str]:
    code = type(stage).__init__.__code__
    return list(code.co_varnames[1 : code.co_argcount])
