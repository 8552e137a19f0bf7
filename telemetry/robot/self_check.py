"""Before the files leave the computer: the samples that are built into them, stepped in the ways that can be tried here."""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from telemetry.errors import SidelongError
from telemetry.reading.flat import owners
from telemetry.reading.own import OwnStage
from telemetry.reading.plan import Plan
from telemetry.reading.watched import OutOfRangeError, Watched
from telemetry.robot.export import Export
from telemetry.robot.samples import NAMES, SelfCheckSamples, samples_of

SECONDS = 60
COMPILED_WITH = ("-std=c99", "-Wall", "-Wextra")


@dataclass(frozen=True, slots=True)
class SelfCheck:
    """``same``: robot and computer agree; None: it could not be tried here. ``said``: in one sentence. ``cautions``.

    ``step``: how long a step took here, in words; empty where it was not measured.
    """

    same: bool | None
    said: str
    cautions: tuple[str, ...] = ()
    step: str = ""


def self_check(made: Export) -> SelfCheck:
    """Run the check program without input, and step the samples with numbers that a board's 31 bits hold.

    MicroPython is taken where it is installed, else this Python; C needs a compiler. Takes about a second.
    """
    cautions = out_of_range(made.order.plan, samples_of(made.order.plan))
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        made.save(folder)
        words, by = _program(made.language, folder)
        if not words:
            return SelfCheck(None, by, cautions)
        try:
            done = subprocess.run(words, stdin=subprocess.DEVNULL, capture_output=True, timeout=SECONDS, check=False)
        except (OSError, subprocess.TimeoutExpired) as error:
            return SelfCheck(None, f"the check could not be run: {error}", cautions)
    told, *more = done.stdout.decode(errors="replace").strip().splitlines() or [""]
    said = told or done.stderr.decode(errors="replace").strip()[-300:]
    return SelfCheck(done.returncode == 0, f"{said}, tried with {by}", cautions, "".join(more[:1]))


def _program(language: str, folder: Path) -> tuple[list[str], str]:
    """The words that run the check program, and what runs it; no words, and why, where nothing can."""
    if language == "c":
        compiler = next((found for name in ("cc", "gcc", "clang") if (found := shutil.which(name))), None)
        if compiler is None:
            return [], "no C compiler here: compile it on another computer, and run it without input"
        program = folder / "check"
        words = [compiler, *COMPILED_WITH, *map(str, sorted(folder.glob("*.c"))), "-o", str(program)]
        done = subprocess.run(words, capture_output=True, timeout=SECONDS, check=False)
        if done.returncode:
            return [], f"the C compiler refused it: {done.stderr.decode(errors='replace').strip()[-300:]}"
        return [str(program)], Path(compiler).name
    beside = Path(sys.executable).with_name("micropython")
    micropython = str(beside) if beside.exists() else shutil.which("micropython")
    if micropython is not None:
        return [micropython, str(folder / "check.py")], "MicroPython"
    return [sys.executable, "-I", "-c", _BESIDE.format(folder=str(folder))], "this computer's Python"


_BESIDE = "import runpy, sys; sys.path.insert(0, {folder!r}); runpy.run_path({folder!r} + '/check.py', run_name='__main__')"


def out_of_range(plan: Plan, samples: SelfCheckSamples) -> tuple[str, ...]:
    """What in the logic is no whole number within a board's 31 bits, found by stepping the samples; a sentence each."""
    plan = plan.fresh()
    for owner in owners(plan.chains):
        if isinstance(owner, OwnStage):
            continue
        for name, value in vars(owner).items():
            if isinstance(value, list):
                value[:] = [one if isinstance(one, Watched) else Watched(one) for one in value]
            elif isinstance(value, int):
                setattr(owner, name, Watched(value))
    plan.reset()
    try:
        _step(plan, samples)
    except OutOfRangeError as error:
        return (f"on the way {error}: a board may read otherwise",)
    except SidelongError as error:
        if isinstance(error.__cause__, OutOfRangeError):
            return (f"on the way {error.__cause__}: a board may read otherwise ({error.where})",)
        raise
    return ()


def _step(plan: Plan, samples: SelfCheckSamples) -> None:
    for row in samples.rows:
        for chain, values in zip(plan.chains, row, strict=True):
            m: Any = chain.moment
            for name, value in zip((*NAMES, "note"), values, strict=True):
                setattr(m, name, Watched(value))
            label: Any = Watched(-1)
            for stage in chain.stages:
                label = stage.step(label, m)
                if type(label) not in {int, bool, Watched}:
                    raise OutOfRangeError(f"{type(stage).__name__} gives {label!r}, which is not a whole number")
    plan.finish()
