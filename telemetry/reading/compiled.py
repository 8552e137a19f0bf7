"""A plan as one function over all samples: plain Python, or compiled for sweeps.

It is the portable core's own source, see translate.py. Settings and tables are arguments, so the same chain with other
settings is not translated or compiled again.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from telemetry.errors import MissingPartError
from telemetry.reading.chain import Chain
from telemetry.reading.plan import Plan
from telemetry.reading.portable.moment import Moment
from telemetry.reading.translate import Inliner, text_of
from telemetry.sample import MISSING, IntColumn, WholeColumns

CHANNELS = ("t", "d", "v", "h", "refl", "red", "green", "blue", "code")
PENDING = 256
"""How many events the end of a run may bring at the most."""

_functions: dict[str, Any] = {}


@dataclass(frozen=True, slots=True)
class Start:
    """A plan's numbers before the first sample: settings and state of all stages, and every table once."""

    numbers: IntColumn
    tables: tuple[IntColumn, ...]

    def copy(self) -> Start:
        """Another, to be used up by one run."""
        return Start(self.numbers.copy(), tuple(table.copy() for table in self.tables))


class Compiled:
    """A plan's chains as one compiled function. Making it takes seconds, the first time for a kind of chain.

    Raises MissingPartError without numba, StrategyError where a stage's source cannot be translated.
    """

    def __init__(self, plan: Plan) -> None:
        self.source, self.channels = source_of(plan.chains)
        self.start = starting(plan)
        self._run = _function(self.source)

    def run(
        self, wholes: Sequence[WholeColumns], notes: Mapping[int, int], rows: int, start: Start | None = None
    ) -> list[tuple[int, int, int]]:
        """A whole run with its end: (row, sensor, event) of each event; row ``rows`` for those at the end.

        ``start``: of a plan of the same kind with other settings; left as it is.
        """
        out = np.empty((rows + PENDING, 3), dtype=np.int64)
        count = self.step_all(self.arrays(wholes, notes, rows), rows, (start or self.start).copy(), out)
        return [(int(row), int(sensor), int(event)) for row, sensor, event in out[:count]]

    def arrays(self, wholes: Sequence[WholeColumns], notes: Mapping[int, int], rows: int) -> tuple[IntColumn, ...]:
        """The columns in the order the compiled function takes them; to be kept for many runs over the same samples."""
        note = np.zeros(rows, dtype=np.int64)
        for row, number in notes.items():
            if row < rows:
                note[row] = number
        return (*(np.ascontiguousarray(getattr(wholes[sensor], name)) for sensor, name in self.channels), note)

    def step_all(self, arrays: tuple[IntColumn, ...], rows: int, start: Start, out: NDArray[np.int64]) -> int:
        """The bare loop, without the interpreter's lock: uses up ``start``, fills ``out`` (rows + PENDING, 3); how many."""
        return int(self._run(rows, *arrays, start.numbers, *start.tables, out))


def starting(plan: Plan) -> Start:
    """The numbers and tables of a plan, set back to its begin, in the order of its function."""
    plan.reset()
    numbers: list[int] = []
    tables: dict[int, IntColumn] = {}
    for stage in _stages(plan.chains):
        for value in vars(stage).values():
            if isinstance(value, list):
                tables.setdefault(id(value), np.array(value, dtype=np.int64))
            else:
                numbers.append(value)
    return Start(np.array(numbers, dtype=np.int64), tuple(tables.values()))


def _stages(chains: Sequence[Chain]) -> list[Any]:
    return list({id(stage): stage for chain in chains for stage in chain.stages}.values())


def source_of(chains: Sequence[Chain]) -> tuple[str, list[tuple[int, str]]]:
    """The text of the function ``run`` and the channels (sensor, name) it takes, before ``note``."""
    prefix = {id(stage): f"z{k}_" for k, stage in enumerate(_stages(chains))}
    tables: dict[int, str] = {}
    lines = []
    own_tables: dict[int, dict[str, str]] = {}
    count = 0
    for stage in _stages(chains):
        own = own_tables[id(stage)] = {}
        for name, value in vars(stage).items():
            if isinstance(value, list):
                own[name] = tables.setdefault(id(value), f"table{len(tables)}")
            else:
                lines.append(f"{prefix[id(stage)]}{name} = numbers[{count}]")
                count += 1
    channels: list[tuple[int, str]] = []
    functions: dict[str, str] = {}
    loads: list[list[str]] = []
    steps: list[list[str]] = []
    ends: list[list[str]] = []
    for number, chain in enumerate(chains):
        moment = f"m{number}_"
        inliners = []
        for ending, into in ((False, steps), (True, ends)):
            here = [
                Inliner(stage, prefix[id(stage)], moment, own_tables[id(stage)], ending) for stage in chain.stages
            ]
            into.append(["label = -1", *(line for inliner in here for line in text_of(inliner.step()))])
            inliners += here
        used = set().union(*(inliner.moment_names for inliner in inliners))
        taken = [name for name in CHANNELS if name in used]
        channels += [(number, name) for name in taken]
        loads.append([f"{moment}{name} = {name}{number}[i]" for name in taken] + [f"{moment}note = note[i]"])
        for inliner in inliners:
            functions |= inliner.functions
        lines += [f"{moment}{name} = {value}" for name, value in vars(Moment()).items()]  # type: ignore[no-untyped-call]
    lines += ["count = 0", "for i in range(rows):"]
    for number in range(len(chains)):
        lines += _indented([*loads[number], *steps[number], *_kept(number, "i")])
    lines.append("for phase in range(1, 3):")
    for number in range(len(chains)):
        gone = [f"m{number}_{name} = {MISSING}" for sensor, name in channels if sensor == number and name != "t"]
        end = [*gone, f"m{number}_note = 0", f"m{number}_end = phase", *ends[number], *_kept(number, "rows")]
        lines += _indented(["zeros = 0", "while zeros < 2:", *_indented([*end, "zeros = 0 if label else zeros + 1"])])
    columns = ", ".join([*(f"{name}{number}" for number, name in channels), "note"])
    head = f"@jit\ndef run(rows, {columns}, numbers, {', '.join(tables.values())}, out):"
    parts = [f"@jit\n{text}" for text in functions.values()]
    return "\n".join([*parts, head, *_indented([*lines, "return count"]), ""]), channels


def _kept(number: int, row: str) -> list[str]:
    entries = [f"out[count, {k}] = {what}" for k, what in enumerate((row, number, "label"))]
    return ["if label:", *_indented([*entries, "count += 1"])]


def _indented(lines: list[str]) -> list[str]:
    return ["    " + line for line in lines]


def _function(source: str) -> Any:
    if source not in _functions:
        try:
            import numba
        except ImportError as error:
            raise MissingPartError(
                "compiled sweeps need numba, which is not installed", todo="Install it with: pip install 'sidelong[sweep]'"
            ) from error
        room: dict[str, Any] = {"jit": numba.njit(nogil=True, boundscheck=False, error_model="numpy")}
        exec(compile(source, "<the portable core, translated>", "exec"), room)
        _functions[source] = room["run"]
    return _functions[source]
