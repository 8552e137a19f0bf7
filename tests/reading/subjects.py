"""What the contract is held against: every stage and every strategy, on streams drawn by hypothesis."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from hypothesis import strategies as st

from telemetry.course import Course
from telemetry.reading.catalogue import STAGES
from telemetry.reading.chain import Chain
from telemetry.reading.layout import Layout, SlotTables
from telemetry.reading.plan import make_plan
from telemetry.reading.stage import Stage
from telemetry.reading.strategy import Strategy
from telemetry.sample import MISSING, MOST_D, MOST_V_H

from .given import Given, Tell
from .made import NAMES, PALETTE, course
from .runtimes import Row

COURSE = course("""
[[leg]]
name = "lane"
[[leg]]
name = "yard"
starts = "note:gate open"
[[leg]]
name = "back"
starts = "reverse"
[[slot]]
name = "a"
leg = "lane"
at_cm = 3.0
width_cm = 1.0
group = "g"
[[slot]]
name = "b"
leg = "lane"
at_cm = 6.0
group = "g"
empty_ok = true
[[slot]]
name = "c"
leg = "yard"
at_cm = 2.0
group = "h"
[[slot]]
name = "d"
leg = "yard"
at_cm = 5.0
group = "h"
[[slot]]
name = "e"
leg = "yard"
group = "h"
unseen = true
[[slot]]
name = "f"
leg = "back"
at_cm = 2.0
colours = ["rust", "sky"]
[[decoy]]
name = "hose"
leg = "yard"
at_cm = 3.5
[[group]]
name = "g"
distinct = ["rust", "leaf", "sky"]
[[group]]
name = "h"
counts = {rust = 2, pink = 1}
""")
CHANNELS = frozenset({"colour", "red", "green", "blue", "refl", "dist", "speed", "heading"})


@dataclass(frozen=True)
class Stream:
    """Rows of whole numbers; what ``Given`` says at each; and which end of its range each setting takes (0, 1, 2)."""

    rows: tuple[Row, ...]
    given: tuple[tuple[int, int, int, int, int], ...]
    picks: tuple[int, ...]

    def shifted(self, by_ms: int) -> Stream:
        """The same at another time."""
        return replace(self, rows=tuple(((row[0] + by_ms) % (1 << 30), *row[1:]) for row in self.rows))

    def cut(self, rows: int) -> Stream:
        """Its begin."""
        return replace(self, rows=self.rows[:rows])


def _or_missing(values: st.SearchStrategy[int]) -> st.SearchStrategy[int]:
    return st.one_of(values, values, values, st.just(MISSING))


_FAR = st.integers(-MOST_D, MOST_D)
_FAST = st.integers(-MOST_V_H, MOST_V_H)
RAW_MAX = 65535
"""Raw channels are 16 bits."""
_STEP = st.tuples(
    st.sampled_from([0, 5, 10, 10, 10, 11, 60, 400, 5000, 1 << 29]),
    _or_missing(st.one_of(st.integers(-60, 120), st.integers(0, 60), _FAR)),
    _or_missing(st.one_of(st.just(0), st.integers(-9000, 9000), _FAST)),
    _or_missing(st.one_of(st.integers(-1800, 1800), _FAST)),
    _or_missing(st.integers(0, 1000)),
    _or_missing(st.sampled_from([0, 40, 400, 80, 600, RAW_MAX])),
    _or_missing(st.sampled_from([0, 40, 100, 300, RAW_MAX])),
    _or_missing(st.sampled_from([0, 40, 50, 500, RAW_MAX])),
    _or_missing(st.integers(0, len(NAMES) - 1)),
    st.sampled_from([0, 0, 0, 0, 1]),
)
_GIVEN = st.tuples(
    st.integers(-1, len(NAMES) - 1), st.integers(0, 2), _or_missing(st.integers(-100, 900)), st.integers(-1, 5),
    st.sampled_from([0, 0, 0, 1]),
)  # fmt: skip


def _stream(begin: int, steps: list[tuple[Row, tuple[int, int, int, int, int]]], picks: tuple[int, ...]) -> Stream:
    rows, given = [], []
    t, d = begin, 0
    for step, say in steps:
        t = (t + step[0]) % (1 << 30)
        moved = step[1]
        if moved != MISSING:
            d = moved if abs(moved) > 200 else max(-MOST_D, min(d + moved, MOST_D))
        # Given's legs only ever go on, as Track's do.
        leg = max(say[1], given[-1][1]) if given else say[1]
        rows.append((t, MISSING if moved == MISSING else d, *step[2:]))
        given.append((say[0], leg, *say[2:]))
    return Stream(tuple(rows), tuple(given), picks)


STREAMS = st.builds(
    _stream,
    st.integers(0, (1 << 30) - 1),
    st.lists(st.tuples(_STEP, _GIVEN), min_size=1, max_size=40),
    st.tuples(*[st.sampled_from([1, 1, 0, 2])] * 8),
)


def layout() -> Layout:
    """The course, seen by its one sensor."""
    return Layout(COURSE, PALETTE, NAMES, 0, CHANNELS, {"gate open": 1}, SlotTables.of(COURSE, NAMES))


def settings_of(stage: Stage, picks: tuple[int, ...]) -> dict[str, int]:
    """Each setting at its least, its default or its greatest value."""
    values = {}
    for setting, pick in zip(stage.settings, picks * 2, strict=False):
        text = {"note": 1, "colour": 2, "colours": 0b1010}
        values[setting.name] = text.get(setting.unit, (setting.low, setting.default, setting.high)[pick])
    return values


def chain_of_stage(stage: Stage, stream: Stream) -> Chain:
    """The stage alone, between one that gives and one that tells."""
    columns = [list(column) for column in zip(*stream.given, strict=True)]
    labels, legs, places, slots, done = columns
    tried = stage.cls(*stage.make(layout(), settings_of(stage, stream.picks)))
    return Chain(0, (Given(labels, legs, places, slots, done), tried, Tell()), ("given", stage.name, "tell"))


def chain_of_strategy(strategy: Strategy, on: Course = COURSE) -> Chain:
    """A whole strategy with track and ledger."""
    return make_plan(strategy, on, PALETTE, CHANNELS - {"red"} if strategy.name == "hold" else CHANNELS, NAMES).chains[0]


Subject = Callable[[Stream], Chain]
STAGE_SUBJECTS: dict[str, Subject] = {
    name: (lambda stream, stage=stage: chain_of_stage(stage, stream)) for name, stage in STAGES.items()  # type: ignore[misc]
}
