"""The runs whose readings are kept: all demo recordings, and random streams that no course or robot was made for."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from telemetry.course import Course, Truth
from telemetry.recording.load import load
from telemetry.sample import SampleTable
from telemetry.sources.synthetic import LEVELS, simulate
from telemetry.stream.decoder import Decoder

RECORDINGS = Path(__file__).parents[2] / "recordings"
RANDOM = 300


@dataclass(frozen=True)
class Stream:
    """One run, decoded. ``name`` is what it goes by in the kept files."""

    name: str
    table: SampleTable
    course: Course
    truth: Truth | None


def demo_streams() -> Iterator[Stream]:
    """The recordings in the folder ``recordings``."""
    for path in sorted(RECORDINGS.glob("*.h5")):
        recording = load(path)
        assert recording.course is not None
        yield Stream(path.name, recording.table, recording.course, recording.truth)


def random_streams(count: int = RANDOM) -> Iterator[Stream]:
    """Simulated runs, each with options by lot, and most of them spoilt: lines lost, doubled, cut, swapped, restarts."""
    for seed in range(count):
        lot = random.Random(seed)
        level = lot.choice(list(LEVELS))
        options = {
            key: lot.random() < share
            for key, share in (("two_sensors", 0.1), ("reversing", 0.1), ("number_codes", 0.2), ("checksum", 0.2))
        }
        options[lot.choice(("codes_only", "raw_only", "reversing"))] = lot.random() < 0.5
        run = simulate(level, 5000 + seed, stop_ms=lot.choice((0.0, 0.0, 0.0, 500.0)), **options)
        lines = list(run.lines)
        for _ in range(lot.randrange(4)):
            lines = _spoilt(lines, lot)
        yield Stream(f"{seed:03} {level}", _decoded(lines), run.course, run.truth)


def _spoilt(lines: list[bytes], lot: random.Random) -> list[bytes]:
    at = lot.randrange(len(lines) // 4, len(lines))
    length = lot.randrange(1, 40)
    match lot.randrange(6):
        case 0:
            return lines[:at] + lines[at + length :]
        case 1:
            return lines[:at] + lines[max(0, at - length) :]
        case 2:
            return lines[: max(at, 20)]
        case 3:
            return [line if lot.random() > 0.05 else line[: len(line) // 2] + b"\n" for line in lines]
        case 4:
            return [line.replace(b"rust", b"leaf") if lot.random() < 0.1 else line for line in lines]
        case _:
            return lines[:at] + lines[: length * 5]


def _decoded(lines: list[bytes]) -> SampleTable:
    decoder, table = Decoder(), SampleTable()
    for chunk in decoder.feed(b"".join(lines), 0) + decoder.finish():
        table.append(chunk)
    return table
