"""What is read in the kept runs, one line a run and strategy, and the files that keep it.

``readings.txt``: every named strategy but those below; ``evidence.txt``: strategies that judge by evidence;
``verdicts.txt``: the verdict on misread runs. ``cd tests; python -m golden.lines [readings] [evidence] [verdicts]`` writes
them anew: only where another reading is what was wanted.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from hashlib import blake2s
from itertools import islice
from pathlib import Path

from telemetry.reading.load import load_strategy
from telemetry.reading.strategies import STRATEGIES
from telemetry.replay.case import Ask, Case
from telemetry.replay.judge import judge
from telemetry.replay.readings import Reading
from telemetry.replay.scoring.results import Result

from .streams import Stream, demo_streams, random_streams

FOLDER = Path(__file__).parent
EVIDENCE = ("evidence",)
VERDICTS_OF_RANDOM = 40


def readings() -> Iterator[str]:
    """All strategies that do not judge by evidence, on all runs."""
    names = [name for name in STRATEGIES if name not in EVIDENCE]
    for stream in (*demo_streams(), *random_streams()):
        yield from (result_line(stream, result) for result in _judged(stream, names))


def evidence() -> Iterator[str]:
    """Those that do."""
    for stream in (*demo_streams(), *random_streams()):
        yield from (result_line(stream, result) for result in _judged(stream, EVIDENCE))


def verdicts() -> Iterator[str]:
    """Whether sensor or logic failed, of the demo runs and of some others."""
    for stream in (*demo_streams(), *islice(random_streams(), VERDICTS_OF_RANDOM)):
        results = _judged(stream, list(STRATEGIES), verdicts=True)
        verdict = next((one.verdict for one in results if one.verdict is not None), None)
        if verdict is not None:
            figures = " ".join(f"{key}={value!r}" for key, value in verdict.figures.items())
            yield f"{stream.name} | {verdict.kind.name} {figures}"


def result_line(stream: Stream, result: Result) -> str:
    """Colours by their first two letters, then a digest of everything else to the last digit."""
    taken = result.taken
    short = " ".join((one.colour or "-")[:2] for one in taken.slots)
    more = f" +{len(taken.surplus)}" if taken.surplus else ""
    whole = "; ".join(_exactly(one) for one in (*taken.slots, *taken.surplus)) + f"; {result.decided_ms}"
    digest = blake2s(whole.encode(), digest_size=4).hexdigest()
    outcome = result.outcome.value if result.outcome else "unknown"
    return f"{stream.name} | {result.strategy} | {outcome} | {short}{more} | {digest}"


def _exactly(one: Reading) -> str:
    told = (one.slot, one.colour, one.how, one.confidence, one.t_ms, one.dist_cm, one.row, one.leg, one.stop_cm)
    return " ".join(map(str, told))


def _judged(stream: Stream, names: list[str] | tuple[str, ...], *, verdicts: bool = False) -> list[Result]:
    strategies = {name: load_strategy(name) for name in names}
    case = Case(stream.name, stream.table, stream.course, stream.truth)
    return judge(case, strategies, Ask(verdict=verdicts))[0]


KEPT: dict[str, Callable[[], Iterator[str]]] = {"readings": readings, "evidence": evidence, "verdicts": verdicts}


def file_of(what: str) -> Path:
    return FOLDER / f"{what}.txt"


if __name__ == "__main__":
    for what in sys.argv[1:] or KEPT:
        text = "".join(f"{line}\n" for line in KEPT[what]())
        file_of(what).write_text(text, encoding="utf-8")
        print(f"{file_of(what)}: {text.count(chr(10))} lines")
