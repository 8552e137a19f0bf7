"""A plan compiled for sweeps: the portable core's own source, written out (flat.py), through numba.

Settings and tables are arguments, so the same chain with other settings is not compiled again.
"""

from __future__ import annotations

import hashlib
import os
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from telemetry.beside import ours_alone
from telemetry.errors import MissingPartError
from telemetry.extras import pip_here
from telemetry.reading.chain import Chain, note_column
from telemetry.reading.flat import Shape, Writer, owners
from telemetry.sample import IntColumn, QuantizedColumns
from telemetry.text_in_place import write_text

MOST_KEPT = 64
"""Of so many plans it is remembered where their state is."""
State = tuple[dict[str, Any], str]
"""The attributes of an object of the core, and the name of one of them."""
PENDING = 256
"""How many events the end of a run may bring at the most."""

Traces = list[NDArray[np.int32]]
"""Of each sensor an array (rows, stages): the label after each stage; the last is the event."""

_functions: dict[str, Any] = {}


class Chained(Protocol):
    """What is asked of a plan."""

    chains: list[Chain]

    def reset(self) -> None: ...


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

    def __init__(self, plan: Chained) -> None:
        self.source, self.shape = Writer(plan.chains, plain=False).write()
        self.start = self.starting(plan)
        self._run = function_of(self.source)

    def starting(self, plan: Chained) -> Start:
        """The numbers and tables of a plan of the same kind, set back to its begin: other settings, the same function."""
        return starting(plan, self.shape)

    def run(
        self, wholes: Sequence[QuantizedColumns], notes: Mapping[int, int], rows: int, start: Start | None = None
    ) -> list[tuple[int, int, int]]:
        """A whole run with its end: (row, sensor, event) of each event; row ``rows`` for those at the end.

        ``start``: of a plan of the same kind with other settings; left as it is.
        """
        out = np.empty((rows + PENDING, 3), dtype=np.int64)
        count = self.step_all(self.arrays(wholes, notes, rows), rows, (start or self.start).copy(), out)
        return [(int(row), int(sensor), int(event)) for row, sensor, event in out[:count]]

    def arrays(self, wholes: Sequence[QuantizedColumns], notes: Mapping[int, int], rows: int) -> tuple[IntColumn, ...]:
        """The columns in the order the compiled function takes them; to be kept for many runs over the same samples."""
        note = np.array(note_column(notes, 0, rows), dtype=np.int64)
        return (*(np.ascontiguousarray(getattr(wholes[sensor], name)) for sensor, name in self.shape.channels), note)

    def step_all(self, arrays: tuple[IntColumn, ...], rows: int, start: Start, out: NDArray[np.int64]) -> int:
        """The bare loop, without the interpreter's lock: uses up ``start``, fills ``out`` (rows + PENDING, 3); how many."""
        return int(self._run(rows, *arrays, start.numbers, *start.tables, out))


class CompiledLoop:
    """As flat.WrittenOut, through the compiler: chains' objects are brought up to date after each stretch.

    Raises MissingPartError without numba, StrategyError where a stage's source cannot be translated.
    """

    def __init__(self, source: str, shape: Shape) -> None:
        self._run, self._shape = function_of(source), shape
        self._kept: dict[tuple[int, ...], tuple[Sequence[Chain], list[State], list[State]]] = {}
        """Chains by their addresses -> they, and where each number and each table of the function is kept."""

    @staticmethod
    def source(chains: Sequence[Chain]) -> tuple[str, Shape]:
        """What is to be compiled for chains of this kind."""
        return Writer(chains, plain=False, ending=False, traced=True).write()

    @classmethod
    def of(cls, chains: Sequence[Chain]) -> CompiledLoop:
        """Made for chains of this kind."""
        return cls(*cls.source(chains))

    def run(
        self, chains: Sequence[Chain], wholes: Sequence[QuantizedColumns], notes: Mapping[int, int], start: int, stop: int
    ) -> list[tuple[int, int, int]]:
        """As Plan.run."""
        events = self.events(chains, wholes, notes, start, stop)
        return [(row + start, sensor, event) for row, sensor, event in events.tolist()]

    def events(
        self, chains: Sequence[Chain], wholes: Sequence[QuantizedColumns], notes: Mapping[int, int], start: int, stop: int
    ) -> NDArray[np.int64]:
        """The same as an array of shape (events, 3), rows counted from ``start``."""
        return self._stepped(chains, wholes, notes, (start, stop), [np.empty((0, 0), dtype=np.int32)] * len(chains))

    def traced(
        self, chains: Sequence[Chain], wholes: Sequence[QuantizedColumns], notes: Mapping[int, int], start: int, stop: int
    ) -> tuple[list[tuple[int, int, int]], Traces]:
        """As ``run``, and what each stage said."""
        seen = [np.empty((stop - start, len(chain.stages)), dtype=np.int32) for chain in chains]
        events = self._stepped(chains, wholes, notes, (start, stop), seen)
        return [(row + start, sensor, event) for row, sensor, event in events.tolist()], seen

    def _stepped(
        self, chains: Sequence[Chain], wholes: Sequence[QuantizedColumns], notes: Mapping[int, int], rows: tuple[int, int],
        seen: Traces,
    ) -> NDArray[np.int64]:  # fmt: skip
        start, stop = rows
        _, kept_numbers, kept_tables = self._kept.get(tuple(map(id, chains))) or self._keep(chains)
        numbers = np.array([state[name] for state, name in kept_numbers], dtype=np.int64)
        lists = [state[name] for state, name in kept_tables]
        tables = [np.array(table, dtype=np.int64) for table in lists]
        columns = [np.ascontiguousarray(getattr(wholes[sensor], name)[start:stop]) for sensor, name in self._shape.channels]
        note = np.zeros(stop - start, dtype=np.int64)
        for row, number in notes.items():
            if start <= row < stop:
                note[row - start] = number
        out = np.empty(((stop - start) * len(chains), 3), dtype=np.int64)
        count = int(self._run(stop - start, *columns, note, numbers, *tables, out, *seen))
        for (state, name), value in zip(kept_numbers, numbers.tolist(), strict=True):
            state[name] = value
        for table, values in zip(lists, tables, strict=True):
            table[:] = values.tolist()
        return out[:count]

    def _keep(self, chains: Sequence[Chain]) -> tuple[Sequence[Chain], list[State], list[State]]:
        """A plan is stepped again and again; its objects stay the same ones."""
        if len(self._kept) >= MOST_KEPT:
            self._kept.clear()
        states = [vars(owner) for owner in owners(chains)]
        numbers = [(states[k], name) for k, name in self._shape.numbers]
        tables = [(states[k], name) for k, name in self._shape.tables]
        found = self._kept[tuple(map(id, chains))] = (tuple(chains), numbers, tables)
        return found


def starting(plan: Chained, shape: Shape) -> Start:
    """The numbers and tables of a plan whose chains have this shape, set back to its begin."""
    plan.reset()
    keepers = owners(plan.chains)
    numbers = [getattr(keepers[k], name) for k, name in shape.numbers]
    tables = [np.array(getattr(keepers[k], name), dtype=np.int64) for k, name in shape.tables]
    return Start(np.array(numbers, dtype=np.int64), tuple(tables))


def function_of(source: str, name: str = "run") -> Any:
    """The compiled function ``name`` of a source that flat.Writer has written. Raises MissingPartError without numba."""
    if source not in _functions:
        # numba would colour its messages, for which it puts control characters onto the terminal when the program ends.
        os.environ.setdefault("NUMBA_DISABLE_ERROR_MESSAGE_HIGHLIGHTING", "1")
        try:
            import numba
        except ImportError as error:
            raise MissingPartError(
                "compiled sweeps need numba, which is not installed", todo=f"Install it with: {pip_here()} install numba"
            ) from error
        file = _kept_file(source)
        # numba looks a kept function's module up by name.
        module = ModuleType(f"sidelong_compiled_{file.stem if file else len(_functions)}")
        sys.modules[module.__name__] = module
        njit: Any = numba.njit
        how = {"nogil": True, "boundscheck": False, "error_model": "numpy", "cache": file is not None}
        module.__dict__["jit"] = njit(**how)
        module.__dict__["inner"] = njit(**how, no_cpython_wrapper=True, no_cfunc_wrapper=True)
        exec(compile(source, str(file or "<the portable core, written out>"), "exec"), module.__dict__)
        _functions[source] = module.__dict__[name]
    return _functions[source]


def is_made(source: str) -> bool:
    """Whether the machine code of this source is there already: in this process, or kept by an earlier one."""
    return source in _functions or _is_kept(_kept_file(source), "run")


def could_be_kept(source: str, name: str) -> bool:
    """Whether machine code of this function would be kept for other processes, and is not there yet."""
    file = _kept_file(source)
    return file is not None and not _is_kept(file, name)


def _is_kept(file: Path | None, name: str) -> bool:
    python = f"py{sys.version_info.major}{sys.version_info.minor}"
    return file is not None and any(file.parent.glob(f"__pycache__/{file.stem}.{name}-*.{python}.nbi"))


def _kept_file(source: str) -> Path | None:
    """The file that stands for this source, so that numba keeps the machine code beside it; None where none can be written.

    What is compiled is always the source at hand, never what the file holds; but the machine code beside it is loaded as it
    is, so the folder must be ours alone.
    """
    folder = cache_folder() / "compiled"
    if not (ours_alone(cache_folder()) and ours_alone(folder)):
        return None
    file = folder / f"chain_{hashlib.sha256(source.encode()).hexdigest()[:24]}.py"
    try:
        if not file.exists() or file.read_text(encoding="utf-8") != source:
            write_text(file, source)
    except OSError:
        return None
    return file


def cache_folder() -> Path:
    """Where things are kept that can be made again: SIDELONG_CACHE, else the system's usual place."""
    if given := os.environ.get("SIDELONG_CACHE"):
        return Path(given)
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local") / "sidelong"
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Caches" / "sidelong"
    return Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "sidelong"

