"""Which of the ways to step a plan is taken: the objects, their written-out loop, or machine code."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from telemetry.errors import MissingPartError, StrategyError
from telemetry.reading.chain import Chain
from telemetry.reading.compiled import CompiledLoop, is_made
from telemetry.reading.flat import Loop, Shape, WrittenOut, kind_of

MADE_AT = 300_000
"""From so many samples on it is worth loading machine code that was made before: numba alone takes half a second."""
MAKE_AT = 400_000
"""From so many samples of one kind of chain on it is worth making it: seconds now, which every later comparison saves."""


class Switch:
    """Decides when a plan's samples go through the written-out loop instead of the objects; all give the same.

    Writing a kind of chain out takes some hundredths of a second, so it pays after many samples: once plans of that kind
    have been given ``after`` samples by this switch, 0: at once, None: never. Fewer than ``least`` rows at once (live view)
    stay with the objects, and neither count. Machine code, where numba is there, takes over when it pays: of a run of hours
    with ``compile_from`` rows still to come; and where so many samples are ``expected`` that beginning numba costs less than
    it saves (some 30 times as fast as the written-out loop). A process with a window expects none: the compiler holds the
    interpreter for up to half a second at a time (measured).
    """

    def __init__(
        self, after: int | None = 20_000, least: int = 100, compile_from: int = 3_000_000,
        made_at: int = MADE_AT, make_at: int = MAKE_AT,
    ) -> None:  # fmt: skip
        self.after = after
        self.least = least
        self.compile_from = compile_from
        self.made_at, self.make_at = made_at, make_at
        self.expected = 0
        """Samples that are known to come, see ``expect``."""
        self._stepped: dict[Any, int] = {}
        self._loops: dict[Any, WrittenOut | None] = {}
        self._compiled: dict[Any, CompiledLoop | None] = {}
        self._sources: dict[Any, tuple[str, Shape]] = {}
        self._not_made: set[Any] = set()

    def expect(self, samples: int) -> None:
        """At least so many samples will come in this process, of all kinds of chains together."""
        self.expected = max(self.expected, samples)

    def loop(self, chains: Sequence[Chain], rows: int, ahead: int = 0) -> Loop | None:
        """The loop to be used for the next ``rows``; None: the objects, as where the chain cannot be written out.

        ``ahead``: how many more will follow at once.
        """
        if self.after is None or rows < self.least:
            return None
        kind = kind_of(chains)
        stepped = self._stepped[kind] = self._stepped.get(kind, 0) + rows
        compiled = self._in_machine_code(kind, chains, rows + ahead)
        if compiled is not None:
            return compiled
        if kind not in self._loops and stepped >= self.after:
            try:
                self._loops[kind] = WrittenOut(chains)
            except StrategyError:
                self._loops[kind] = None
        return self._loops.get(kind)

    def _in_machine_code(self, kind: Any, chains: Sequence[Chain], rows: int) -> CompiledLoop | None:
        if kind in self._compiled:
            return self._compiled[kind]
        long = rows >= self.compile_from
        if not long and self.expected < self.made_at:
            return None
        pays = long or self._stepped[kind] >= self.make_at
        if kind in self._not_made and not pays:
            return None
        try:
            source = self._sources[kind] = self._sources.get(kind) or CompiledLoop.source(chains)
            if not pays and not is_made(source[0]):
                self._not_made.add(kind)
                return None
            self._compiled[kind] = CompiledLoop(*source)
        except (StrategyError, MissingPartError):
            self._compiled[kind] = None
        return self._compiled[kind]


WHEN_IT_PAYS: Final = Switch()
"""The switch of this process, for every plan that is given no other."""
