"""A plan's chains written out as one loop over the samples; several times faster than stepping the objects.

The loop is the portable core's own source, see translate.py. Settings, state and tables are arguments and are put back
afterwards, so objects and loop can take turns on one run.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from telemetry.reading.chain import Chain, note_column
from telemetry.reading.scope import Scope, parts_of
from telemetry.reading.syntax import text_of
from telemetry.reading.translate import Inliner
from telemetry.sample import MISSING, QuantizedColumns

CHANNELS = ("t", "d", "v", "h", "refl", "red", "green", "blue", "code")
Attribute = tuple[int, str]
"""Which owner (see ``owners``) keeps a number or table, under which name."""


def owners(chains: Sequence[Chain]) -> list[Any]:
    """Everything that keeps numbers: each stage once, each followed by the parts it owns, then the moments."""
    found: dict[int, Any] = {}
    for chain in chains:
        if chain.owners is None:
            chain.owners = _owners_of(chain)
        for owner in chain.owners:
            found.setdefault(id(owner), owner)
    return [*found.values(), *(chain.moment for chain in chains)]


def _owners_of(chain: Chain) -> tuple[Any, ...]:
    """Each stage before its parts. Stages and parts are never exchanged, so this is asked of a chain once."""
    found: dict[int, Any] = {}

    def add(owner: Any) -> None:
        if id(owner) not in found:
            found[id(owner)] = owner
            for part in parts_of(owner):
                add(part)

    for stage in chain.stages:
        add(stage)
    return tuple(found.values())


@dataclass(frozen=True, slots=True)
class Shape:
    """What the written-out function takes, in its order: numbers, tables (each once) and channels (sensor, name)."""

    numbers: tuple[Attribute, ...]
    tables: tuple[Attribute, ...]
    channels: tuple[tuple[int, str], ...]


class Writer:
    """Writes the function ``run`` for a plan's chains. Raises StrategyError where a stage's source breaks a rule.

    ``plain``: for the interpreter, which steps the end of a run on the objects; else for the compiler, with events in an
    array and (``ending``) the end of the run in it. ``sweep``: for the compiler, ``run(first, rows, ...)`` over a part of
    columns that hold many runs; state is not put back, so the compiler leaves out what no event depends on. ``traced``:
    for the compiler, with an array (rows, stages) a sensor behind ``out`` for the label after each stage; empty: none.
    """

    def __init__(
        self, chains: Sequence[Chain], plain: bool, ending: bool = True, sweep: bool = False, traced: bool = False
    ) -> None:
        self.chains = chains
        self.plain = plain
        self.ending = ending and not plain
        self.sweep = sweep
        self.traced = traced
        self._functions: dict[str, str] = {}
        self._named: list[tuple[str, Attribute]] = []
        self._tables: dict[int, tuple[str, Attribute]] = {}
        self._owners = owners(chains)
        apart = len(self._owners) - len(chains)
        self._scopes: dict[int, Scope] = {}
        for k, owner in enumerate(self._owners):
            prefix = f"z{k}_" if k < apart else f"m{k - apart}_"
            own: dict[str, str] = {}
            for name, value in vars(owner).items():
                if isinstance(value, list):
                    own[name] = self._tables.setdefault(id(value), (f"table{len(self._tables)}", (k, name)))[0]
                elif isinstance(value, int):
                    self._named.append((prefix + name, (k, name)))
            self._scopes[id(owner)] = Scope(owner, prefix, own)

    def write(self) -> tuple[str, Shape]:
        """The text of ``run(rows, channels..., note, numbers, tables..., out)``, and what it takes."""
        channels: list[tuple[int, str]] = []
        steps, ends = [], []
        for number in range(len(self.chains)):
            going, used = self._steps(number, ending=False, traced=self.traced)
            steps.append(going)
            if self.ending:
                ending, more = self._steps(number, ending=True)
                ends.append(ending)
                used |= more
            channels += [(number, name) for name in CHANNELS if name in used]
        lines = [f"{name} = numbers[{k}]" for k, (name, _) in enumerate(self._named)]
        lines += [*self._loop(steps, channels), *(self._end(ends, channels) if ends else [])]
        if not self.sweep:
            lines += [f"numbers[{k}] = {name}" for k, (name, _) in enumerate(self._named)]
        columns = "".join(f"{name}{number}, " for number, name in channels)
        tables = "".join(f"{name}, " for name, _ in self._tables.values())
        parts = [self._marked(text, "inner") for text in self._functions.values()]
        first = "first, " if self.sweep else ""
        traces = "".join(f", seen{number}" for number in range(len(self.chains))) if self.traced else ""
        head = f"def run({first}rows, {columns}note, numbers, {tables}out{traces}):"
        head = self._marked(head, "inner" if self.sweep else "jit")
        shape = Shape(
            tuple(place for _, place in self._named), tuple(place for _, place in self._tables.values()), tuple(channels)
        )
        return "\n".join([*parts, head, *_indented([*lines, "return out" if self.plain else "return count"]), ""]), shape

    def step(self, number: int) -> list[str]:
        """One step of one sensor's chain by itself, that of the run's end included: from ``label = -1`` to its event."""
        return self._steps(number, ending=True)[0]

    @property
    def functions(self) -> dict[str, str]:
        """Name -> text of the functions that what was written out so far calls."""
        return dict(self._functions)

    def numbers(self) -> dict[str, int]:
        """Every number by the name it is written out with, as it stands."""
        return {name: int(getattr(self._owners[k], own)) for name, (k, own) in self._named}

    def tables(self) -> dict[str, list[int]]:
        """Every table by the name it is written out with, as it stands."""
        return {name: [int(value) for value in getattr(self._owners[k], own)] for name, (k, own) in self._tables.values()}

    def _marked(self, text: str, mark: str) -> str:
        """For the compiler; ``inner``: called by none but compiled functions, so no way in from Python is made."""
        return text if self.plain else f"@{mark}\n{text}"

    def _steps(self, number: int, ending: bool, traced: bool = False) -> tuple[list[str], set[str]]:
        """All steps of one sensor's chain, and the moment's names that came up."""
        lines, used = ["label = -1"], set()
        for k, stage in enumerate(self.chains[number].stages):
            inliner = Inliner(stage, f"m{number}_", self._scopes, ending)
            lines += text_of(inliner.step())
            if traced:
                lines += ["if traced:", f"    seen{number}[i, {k}] = label"]
            used |= inliner.moment_names
            self._functions |= inliner.functions
        return lines, used

    def _loop(self, steps: list[list[str]], channels: list[tuple[int, str]]) -> list[str]:
        lines: list[str] = []
        if self.plain:
            into = ", ".join(f"m{number}_{name}" for number, name in channels)
            given = ", ".join(f"{name}{number}" for number, name in channels)
            lines.append(f"for i, m0_note, {into} in zip(range(rows), note, {given}):")
            lines += [f"    m{number}_note = m0_note" for number in range(1, len(steps))]
        else:
            lines += ["traced = len(seen0) > 0"] if self.traced else []
            lines += ["count = 0", "for i in range(first, rows):" if self.sweep else "for i in range(rows):"]
            lines += [f"    m{number}_{name} = {name}{number}[i]" for number, name in channels]
            lines += [f"    m{number}_note = note[i]" for number in range(len(steps))]
        for number, step in enumerate(steps):
            lines += _indented([*step, *self._kept(number, "i")])
        return lines

    def _end(self, ends: list[list[str]], channels: list[tuple[int, str]]) -> list[str]:
        lines = ["for phase in range(1, 3):"]
        for number, end in enumerate(ends):
            gone = [f"m{sensor}_{name} = {MISSING}" for sensor, name in channels if sensor == number and name != "t"]
            step = [*gone, f"m{number}_note = 0", f"m{number}_end = phase", *end, *self._kept(number, "rows")]
            lines += _indented(["zeros = 0", "while zeros < 2:", *_indented([*step, "zeros = 0 if label else zeros + 1"])])
        return lines

    def _kept(self, number: int, row: str) -> list[str]:
        if self.plain:
            return ["if label:", f"    out.append(({row}, {number}, label))"]
        entries = [f"out[count, {k}] = {what}" for k, what in enumerate((row, number, "label"))]
        return ["if label:", *_indented([*entries, "count += 1"])]


def _indented(lines: list[str]) -> list[str]:
    return ["    " + line for line in lines]


class Loop(Protocol):
    """All stages of a kind of plan in one function, written out from their source."""

    def run(
        self, chains: Sequence[Chain], wholes: Sequence[QuantizedColumns], notes: Mapping[int, int], start: int, stop: int
    ) -> list[tuple[int, int, int]]:
        """As Plan.run, with the chains' objects brought up to date afterwards."""

    def events(
        self, chains: Sequence[Chain], wholes: Sequence[QuantizedColumns], notes: Mapping[int, int], start: int, stop: int
    ) -> NDArray[np.int64]:
        """The same as an array of shape (events, 3), rows counted from ``start``."""


class WrittenOut:
    """The written-out loop of all plans whose chains are alike but for their settings."""

    def __init__(self, chains: Sequence[Chain]) -> None:
        source, self._shape = Writer(chains, plain=True).write()
        room: dict[str, Any] = {}
        exec(compile(source, "<the portable core, written out>", "exec"), room)
        self._run = room["run"]

    def run(
        self, chains: Sequence[Chain], wholes: Sequence[QuantizedColumns], notes: Mapping[int, int], start: int, stop: int
    ) -> list[tuple[int, int, int]]:
        """As Plan.run, with the chains' objects brought up to date afterwards."""
        return [(row + start, sensor, event) for row, sensor, event in self._events(chains, wholes, notes, (start, stop))]

    def events(
        self, chains: Sequence[Chain], wholes: Sequence[QuantizedColumns], notes: Mapping[int, int], start: int, stop: int
    ) -> NDArray[np.int64]:
        """The same as an array of shape (events, 3), rows counted from ``start``."""
        return np.array(self._events(chains, wholes, notes, (start, stop)), dtype=np.int64).reshape(-1, 3)

    def _events(
        self, chains: Sequence[Chain], wholes: Sequence[QuantizedColumns], notes: Mapping[int, int], rows: tuple[int, int]
    ) -> list[tuple[int, int, int]]:
        start, stop = rows
        keepers = owners(chains)
        numbers = [getattr(keepers[k], name) for k, name in self._shape.numbers]
        tables = [getattr(keepers[k], name) for k, name in self._shape.tables]
        columns = [getattr(wholes[sensor], name)[start:stop].tolist() for sensor, name in self._shape.channels]
        out: list[tuple[int, int, int]] = []
        self._run(stop - start, *columns, note_column(notes, start, stop), numbers, *tables, out)
        for (k, name), value in zip(self._shape.numbers, numbers, strict=True):
            setattr(keepers[k], name, value)
        return out


def kind_of(chains: Sequence[Chain]) -> Any:
    """The kind of a plan's chains: their classes, and which tables they share."""
    if len(chains) != 1:
        return _kind_of(chains)
    if chains[0].kind is None:
        chains[0].kind = _kind_of(chains)
    return chains[0].kind


def _kind_of(chains: Sequence[Chain]) -> Any:
    tables: dict[int, int] = {}
    parts = []
    for owner in owners(chains):
        lists = [tables.setdefault(id(value), len(tables)) for value in vars(owner).values() if isinstance(value, list)]
        parts.append((type(owner), *lists))
    return (*parts, *(len(chain.stages) for chain in chains))
