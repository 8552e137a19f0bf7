"""Make the demo recordings anew: python recordings/make.py [FOLDER]. All of them are simulated.

Each run is written by the very path that a capture goes (its bytes with their times of arrival, decoded and stored), only
that the times come from the simulation and not from a clock. The same Sidelong gives the same samples again.
"""

from __future__ import annotations

import hashlib
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from telemetry.recording.journal.records import Record, RecordKind
from telemetry.recording.make import write_recording
from telemetry.recording.meta import Meta
from telemetry.sources.synthetic import LEVELS, SimulatedRun, simulate

BEGIN = datetime(2026, 1, 10, 9, 0, tzinfo=UTC)
LINK_MS = 2.0  # a line takes so long over the cable


@dataclass(frozen=True)
class Demo:
    """One recording: level, seed, and what else is asked of the robot."""

    level: str
    seed: int
    variant: str = ""
    options: dict[str, Any] = field(default_factory=dict)

    @property
    def name(self) -> str:
        return "-".join(part for part in (self.level, self.variant, f"{self.seed:02}") if part)


DEMOS = (
    *(Demo("practice", seed) for seed in range(1, 7)),
    *(Demo("venue", seed) for seed in range(1, 9)),
    *(Demo("slipping", seed) for seed in range(1, 7)),
    *(Demo("extreme", seed) for seed in range(1, 7)),
    Demo("venue", 21, "reversing", {"reversing": True}),
    Demo("venue", 22, "two-sensors", {"two_sensors": True}),
    Demo("venue", 23, "codes-only", {"codes_only": True, "number_codes": True}),
    Demo("practice", 24, "stopping", {"stop_ms": 600.0}),
)


def records(demo: Demo, run: SimulatedRun, made: datetime) -> Iterator[Record]:
    """What a journal of this run would hold."""
    physics = LEVELS[demo.level].physics
    begin_ns = int(made.timestamp()) * 1_000_000_000
    meta = Meta(
        name=demo.name, course=run.course.text, truth=run.truth,
        tags=tuple(filter(None, ("demo", demo.level, demo.variant))),
        driven_by="the robot's own simple program", robot="the built-in robot (simulated)",
        sensor_mode="colour" if demo.options.get("codes_only") else "colour and raw", light=str(run.settings["light"]),
        height_mm=physics.height_mm, remarks=LEVELS[demo.level].what, source=f"robot:{demo.level}?seed={demo.seed}",
        simulated=True, id=hashlib.sha256(demo.name.encode()).hexdigest()[:32], made=made.isoformat(),
    ).begun(made)  # fmt: skip
    yield Record(RecordKind.META, begin_ns, meta.to_json().encode())
    for at_ms, line in zip(run.at_ms.tolist(), run.lines, strict=True):
        yield Record(RecordKind.BYTES, begin_ns + round((at_ms + LINK_MS) * 1e6), line)
    yield Record(RecordKind.END, begin_ns + round((float(run.at_ms[-1]) + LINK_MS) * 1e6), b"the stream ended")


def main(folder: Path) -> None:
    """Write every recording that is not there yet."""
    folder.mkdir(parents=True, exist_ok=True)
    for number, demo in enumerate(DEMOS):
        path = folder / f"{demo.name}.h5"
        if path.exists():
            print(f"{path} is there already")
            continue
        run = simulate(demo.level, demo.seed, **demo.options)
        begin = BEGIN + timedelta(minutes=3 * number)
        made = write_recording(records(demo, run, begin), path, most_bytes=sum(map(len, run.lines)))
        print(f"{path}: {made.summary.rows} samples, {path.stat().st_size:,} bytes")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
