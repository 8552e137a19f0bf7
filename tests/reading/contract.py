"""The contract: each check takes a subject and a stream and fails with an AssertionError where a stage breaks a rule."""

from __future__ import annotations

import copy
from collections.abc import Callable
from pathlib import Path

from telemetry.errors import StrategyError
from telemetry.reading.chain import Chain
from telemetry.reading.flat import owners
from telemetry.reading.scope import parts_of
from telemetry.sample import MISSING

from .runtimes import Out, on_compiler, on_loop, on_micropython, on_objects
from .subjects import Stream, Subject


def _going(out: Out, rows: int) -> Out:
    return [entry for entry in out if entry[0] < rows]


def deterministic(subject: Subject, stream: Stream) -> None:
    """Twice the same stream, twice the same readings."""
    assert on_objects(subject(stream), stream.rows) == on_objects(subject(stream), stream.rows)


def stays_in_range(subject: Subject, stream: Stream) -> None:
    """No number leaves +-2**30, and every step returns a number; the same readings as with plain integers."""
    assert on_objects(subject(stream), stream.rows, watched=True) == on_objects(subject(stream), stream.rows)


def labels_only(subject: Subject, stream: Stream) -> None:
    """Each stage but the last returns -1, 0 or a colour of the course."""
    chain = _ready(subject(stream))
    for values in stream.rows:
        _fill(chain, values)
        label = -1
        for stage in chain.stages[:-1]:
            label = stage.step(label, chain.moment)
            assert isinstance(label, int), f"{type(stage).__name__} returned {label!r}"
            assert -1 <= label <= 29, f"{type(stage).__name__} returned {label}"
        chain.stages[-1].step(label, chain.moment)


def independent(subject: Subject, stream: Stream) -> None:
    """Two made alike and stepped in turn do not disturb each other."""
    alone = on_objects(subject(stream), stream.rows)
    one, other = _ready(subject(stream)), _ready(subject(stream))
    seen: Out = []
    for row, values in enumerate(stream.rows):
        event = _step(one, values)
        if event:
            seen.append((row, event))
        _step(other, stream.rows[-1 - row])
    assert seen == _going(alone, len(stream.rows))


def reset_is_fresh(subject: Subject, stream: Stream) -> None:
    """After a reset it is as new."""
    chain = subject(stream)
    fresh = on_objects(chain, stream.rows)
    used = copy.deepcopy(chain)
    used = _ready(used)
    for values in stream.rows:
        _step(used, values)
    assert on_objects(used, stream.rows) == fresh


def causal(subject: Subject, stream: Stream) -> None:
    """What it has said does not depend on what comes after."""
    rows = len(stream.rows)
    whole = on_objects(subject(stream), stream.rows)
    for part in {0, rows // 3, rows // 2, rows - 1}:
        begin = on_objects(subject(stream), stream.rows[:part])
        assert _going(begin, part) == _going(whole, part)


def any_time_of_day(subject: Subject, stream: Stream) -> None:
    """The robot's clock may start anywhere, and its 2**30 ms may run over in mid-run."""
    first = on_objects(subject(stream), stream.rows)
    for by_ms in (1, 123_457, (1 << 30) - stream.rows[0][0], (1 << 30) - stream.rows[-1][0] - 1):
        moved = stream.shifted(by_ms)
        assert on_objects(subject(moved), moved.rows) == first


def without_channels(subject: Subject, stream: Stream) -> None:
    """A robot that sends next to nothing: no error, and the end comes."""
    empty = tuple((row[0], *(MISSING,) * 8, row[9]) for row in stream.rows)
    on_objects(subject(stream), empty, watched=True)
    for channel in range(1, 9):
        gaps = tuple((*row[:channel], MISSING, *row[channel + 1 :]) for row in stream.rows)
        on_objects(subject(stream), gaps)


def bounded_memory(subject: Subject, stream: Stream) -> None:
    """Its state is whole numbers and lists that never grow."""
    chain = _ready(subject(stream))

    def sizes() -> list[tuple[str, int]]:
        found = []
        for owner in owners([chain])[:-1]:
            for name, value in vars(owner).items():
                part = value in parts_of(owner)
                assert part or isinstance(value, int | list), f"{type(owner).__name__}.{name} is {value!r}"
                found.append((name, len(value) if isinstance(value, list) else -1))
        return found

    before = sizes()
    for values in stream.rows:
        _step(chain, values)
    assert sizes() == before


CHECKS: dict[str, Callable[[Subject, Stream], None]] = {
    check.__name__: check
    for check in (
        deterministic, stays_in_range, labels_only, independent, reset_is_fresh, causal, any_time_of_day, without_channels,
        bounded_memory,
    )
}  # fmt: skip


def same_on_all_runtimes(subject: Subject, stream: Stream, folder: Path, micro: bool) -> None:
    """Objects, written-out loop, compiled, MicroPython (where nothing may be allocated): the same numbers."""
    plain = on_objects(subject(stream), stream.rows)
    try:
        assert on_loop(subject(stream), stream.rows) == plain
        compiled = on_compiler(subject(stream), stream.rows)
    except StrategyError as error:
        raise AssertionError(str(error)) from error
    told = compiled and compiled[-1][0] == len(stream.rows)
    assert compiled == (plain if told else _going(plain, len(stream.rows)) if _endless(subject(stream)) else plain)
    if micro:
        assert on_micropython(subject(stream), stream.rows, folder) == plain


def _endless(chain: Chain) -> bool:
    return chain.names[-1] == "tell"


def _ready(chain: Chain) -> Chain:
    chain.reset()
    return chain


def _fill(chain: Chain, values: tuple[int, ...]) -> None:
    m = chain.moment
    m.t, m.d, m.v, m.h, m.refl, m.red, m.green, m.blue, m.code, m.note = values


def _step(chain: Chain, values: tuple[int, ...]) -> int:
    _fill(chain, values)
    label = -1
    for stage in chain.stages:
        label = stage.step(label, chain.moment)
    return label
