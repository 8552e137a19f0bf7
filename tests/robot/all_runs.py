"""Readers beside all demo runs: one reader for all runs that want the same, one process for all of its runs."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from telemetry.reading.strategies import STRATEGIES
from telemetry.recording.load import Recording, load
from telemetry.robot.order import order_like

from .reading import RECORDINGS, Said, made, on_the_computer, run_words, said, settled

RUNS_PY = """
import sys
sys.path.insert(0, sys.argv[1])
import check
known = len(check.COLOURS)
for path in sys.stdin:
    del check.COLOURS[known:]
    with open(path.strip(), "rb") as source:
        check.feed(check.Stream(check.Checked()), source)
    print("=")
"""
"""Many recorded streams through one check.py, a sign of equality behind each."""


@dataclass(frozen=True)
class Kind:
    """Demo runs that one reader is made for: same course, columns, ranges."""

    like: Path
    runs: tuple[Path, ...]


@cache
def recorded(path: Path) -> Recording:
    return load(path)


@cache
def kinds(strategy: str) -> tuple[Kind, ...]:
    """All demo runs, by the fingerprint of the reader that ``--like`` makes for each."""
    found: dict[tuple[str, str], list[Path]] = {}
    for path in sorted(RECORDINGS.glob("*.h5")):
        course = recorded(path).course
        assert course is not None
        order = order_like(STRATEGIES[strategy], course, path)
        found.setdefault((order.fingerprint, order.columns), []).append(path)
    return tuple(Kind(paths[0], tuple(paths)) for paths in found.values())


def streams(runs: tuple[Path, ...], folder: Path) -> list[Path]:
    """What the robots sent, as files."""
    folder.mkdir(exist_ok=True)
    out = []
    for path in runs:
        there = folder / f"{path.stem}.txt"
        there.write_bytes(b"".join(piece for _, piece in recorded(path).raw()))
        out.append(there)
    return out


@cache
def wanted(strategy: str, path: Path) -> Said:
    """What the core reads in a run."""
    run = recorded(path)
    assert run.course is not None
    return on_the_computer(run.table, STRATEGIES[strategy], run.course, None, run.meta.palette)


def readers(strategy: str, folder: Path, *language: str) -> Iterator[tuple[Kind, Path, list[Path]]]:
    """For each kind of run the folder of its reader, made by the command, and its streams."""
    for number, kind in enumerate(kinds(strategy)):
        place = made(folder / str(number), strategy, "--like", str(kind.like), *language)
        yield kind, place, streams(kind.runs, folder / f"streams{number}")


def said_of_all(out: bytes) -> list[Said]:
    """What a program said of each stream, a sign of equality behind each."""
    return [settled(said(part.strip())) for part in out.split(b"=\n")[:-1]]


def alone(program: Path, stream: Path) -> Said:
    """What a program says of one stream on its standard input."""
    done = run_words([program], stream.read_bytes())
    assert done.returncode == 0, done.stdout + done.stderr
    return settled(said(done.stdout))
