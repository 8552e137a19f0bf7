"""The runs of the demonstration: a robot in a second process on a real link, captured live."""

from __future__ import annotations

import os
import subprocess
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from telemetry.errors import LinkError
from telemetry.own_program import own_command

if TYPE_CHECKING:
    from telemetry.recording.meta import Meta

LINK = "pty" if os.name == "posix" else "tcp"
_STOP_S = 0.1


@dataclass(frozen=True, slots=True)
class DemoRun:
    """One run to be driven and captured."""

    level: str
    seed: int
    path: Path

    @property
    def truth(self) -> tuple[str, ...]:
        """What stands there: the robot draws it from the seed."""
        from telemetry.sources.synthetic import simulate

        return simulate(self.level, self.seed).truth

    def meta(self) -> Meta:
        """The labels of its recording."""
        from telemetry.recording.meta import Meta
        from telemetry.sources.synthetic import LEVELS, built_in_course

        return Meta(
            name=self.path.stem, course=built_in_course().text, truth=self.truth, tags=("demo", self.level),
            robot="the built-in robot (simulated)", driven_by="the robot's own simple program", simulated=True,
            height_mm=LEVELS[self.level].physics.height_mm, remarks=LEVELS[self.level].what,
        )  # fmt: skip


@contextmanager
def robot_driving(run: DemoRun, speed_up: float) -> Iterator[str]:
    """The robot in a process of its own; gives what to capture from. It drives as soon as somebody listens."""
    words = ["robot", "--level", run.level, "--seed", str(run.seed), "--link", LINK, "--speed-up", str(speed_up)]
    process = subprocess.Popen(
        own_command(words),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        assert process.stdout is not None
        name = process.stdout.readline().strip()
        if not name:
            said = process.communicate()[1].strip().splitlines()
            raise LinkError("the built-in robot did not start", where=run.level, todo=said[-1] if said else "")
        yield name
    finally:
        process.terminate()
        process.communicate()


def captured(run: DemoRun, speed_up: float, stop: threading.Event, tell: Callable[[str], None]) -> None:
    """Capture one run into its recording. ``stop`` ends it early. Raises LinkError or StorageError."""
    from telemetry.recording.capture import Capture
    from telemetry.sources import open_source

    with robot_driving(run, speed_up) as name:
        capture = Capture(open_source(name), run.path, run.meta())
        capture.start()
        while capture.running and not stop.is_set():
            capture.wait(_STOP_S)
        made = capture.close()
        if capture.error is not None:
            raise capture.error
        if made is None:
            raise LinkError("nothing arrived from the built-in robot", where=name, todo="Try again.")
        count = made.summary.lost
        lost = f", {count} line{'s' if count > 1 else ''} lost on the way" if count else ""
        tell(f"{run.path.name}: {made.summary.rows} samples{lost}")


def captured_side_by_side(runs: list[DemoRun], speed_up: float, tell: Callable[[str], None]) -> None:
    """Capture all runs, the levels beside each other, the runs of a level one after the other."""
    from concurrent.futures import ThreadPoolExecutor

    stop = threading.Event()
    levels = list(dict.fromkeys(run.level for run in runs))

    def one_level(level: str) -> None:
        for run in runs:
            if run.level == level and not stop.is_set():
                captured(run, speed_up, stop, tell)

    with ThreadPoolExecutor(len(levels)) as pool:
        try:
            for done in [pool.submit(one_level, level) for level in levels]:
                done.result()
        except BaseException:
            stop.set()
            raise
