"""Which of the ways to step a plan is taken: the objects, their written-out loop, or machine code."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from telemetry.errors import MissingPartError, StrategyError
from telemetry.reading.chain import Chain
from telemetry.reading.compiled import CompiledLoop
from telemetry.reading.flat import Loop, WrittenOut, kind_of


class Switch:
    """Decides when a plan's samples go through the written-out loop instead of the objects; both give the same.

    Writing a kind of chain out takes some tenths of a second, so it pays after many samples: once plans of that kind have
    been given ``after`` samples by this switch, 0: at once, None: never. Fewer than ``least`` rows at once (live view)
    stay with the objects, and neither count. Runs of hours, with ``compile_from`` rows still to come, go through machine
    code where numba is there: making it takes seconds, once for a kind of chain and computer.
    """

    def __init__(self, after: int | None = 20_000, least: int = 100, compile_from: int = 3_000_000) -> None:
        self.after = after
        self.least = least
        self.compile_from = compile_from
        self._stepped: dict[Any, int] = {}
        self._loops: dict[Any, WrittenOut | None] = {}
        self._compiled: dict[Any, Loop | None] = {}

    def loop(self, chains: Sequence[Chain], rows: int, ahead: int = 0) -> Loop | None:
        """The loop to be used for the next ``rows``; None: the objects, as where the chain cannot be written out.

        ``ahead``: how many more will follow at once.
        """
        if self.after is None or rows < self.least:
            return None
        kind = kind_of(chains)
        if rows + ahead >= self.compile_from or self._compiled.get(kind) is not None:
            compiled = self._in_machine_code(kind, chains)
            if compiled is not None:
                return compiled
        stepped = self._stepped[kind] = self._stepped.get(kind, 0) + rows
        if kind not in self._loops and stepped >= self.after:
            try:
                self._loops[kind] = WrittenOut(chains)
            except StrategyError:
                self._loops[kind] = None
        return self._loops.get(kind)

    def _in_machine_code(self, kind: Any, chains: Sequence[Chain]) -> Loop | None:
        if kind not in self._compiled:
            try:
                self._compiled[kind] = CompiledLoop(chains)
            except (StrategyError, MissingPartError):
                self._compiled[kind] = None
        return self._compiled[kind]


WHEN_IT_PAYS: Final = Switch()
"""The switch of this process, for every plan that is given no other."""
