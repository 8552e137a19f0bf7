"""``sidelong demo``: the whole job on the built-in robot, live, in under a minute."""

from __future__ import annotations

import argparse
import sys
import time
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from telemetry.errors import EXIT_OK, StorageError, UsageError

if TYPE_CHECKING:
    from telemetry.commands.demo_runs import DemoRun

LIVE_STRATEGY = "map-and-list"
SEED = 15
"""Its four runs are nearest to the average of the seeds 0 to 43, by level and strategy, so that none is favoured."""


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--folder", type=Path, metavar="FOLDER", help="where the recordings go (default: demo/TIME)")
    parser.add_argument("--runs", type=int, default=4, metavar="N", help="runs at each level of difficulty (default: 4)")
    parser.add_argument(
        "--seed", type=int, default=SEED, metavar="N", help=f"of the first run at each level (default: {SEED})"
    )
    parser.add_argument("--speed-up", type=float, default=1.0, metavar="X", help="drive X times as fast (default: 1)")


def run(args: argparse.Namespace) -> int:
    from telemetry.commands.demo_runs import LINK, DemoRun, captured_side_by_side
    from telemetry.replay.compare import ComparisonRequest, compare
    from telemetry.report.demo_text import demo_lines
    from telemetry.report.table import show, wrap
    from telemetry.sources.synthetic import LEVELS, built_in_course

    if args.runs < 1 or args.speed_up <= 0 or args.seed < 0:
        raise UsageError("--runs must be 1 or more, --speed-up above 0, --seed 0 or more")
    begin = time.monotonic()
    folder = args.folder or Path("demo") / f"{datetime.now().astimezone():%Y-%m-%d_%H-%M-%S}"
    try:
        folder.mkdir(parents=True)
    except FileExistsError as error:
        raise StorageError("this folder is there already", where=str(folder), todo="Name another with --folder.") from error
    course = folder / "orchard-row.toml"
    course.write_text(built_in_course().text, encoding="utf-8", newline="\n")
    seeds = range(args.seed, args.seed + args.runs)
    runs = [DemoRun(level, seed, folder / f"{level}-{seed}.h5") for level in LEVELS for seed in seeds]
    kind = "a pseudo-terminal" if LINK == "pty" else "a TCP port"
    pace = "in real time" if args.speed_up == 1.0 else f"{args.speed_up:g} times as fast as it would really drive"
    intro = (
        "Sidelong demo. Everything here is SIMULATED: the built-in robot drives down Orchard Row past three tags, turns, "
        "and drives through a gate past five crates; a sixth is never seen, its colour follows from the others. The robot "
        f"runs in a process of its own on {kind}, {pace}, and is captured as a real one would be."
    )
    show([*wrap(intro), ""])

    _say(f"1. One run live, with the readings of '{LIVE_STRATEGY}' as they are made:")
    first, *others = runs
    _live(first, course, args.speed_up)
    _say(f"   What really stands there: {', '.join(first.truth)}.\n")

    if others:
        _say(f"2. {len(others)} more runs, the levels beside each other:")
        for name, level in LEVELS.items():
            _say(f"   {name:<10}{level.what}")
        captured_side_by_side(others, args.speed_up, lambda text: _say(f"   {text}"))
        _say("")

    paths = [one.path for one in runs]
    _say(f"3. The {len(paths)} recordings replayed through every named strategy:\n")
    comparison = compare(paths, ComparisonRequest(reasons=False))
    show(demo_lines(comparison, {one.path.as_posix(): one.level for one in runs}))
    _say(f"\nIt took {time.monotonic() - begin:.0f} s. The recordings and the course lie in {folder}. Try next:")
    for words, what in (
        (f"sidelong compare {folder} --why", "which run failed at which slot, and why"),
        ("sidelong window", "look at a run sample by sample"),
        ("sidelong strategies", "what these strategies do, and their settings"),
        ("sidelong emitter -o emitter.py", "what lets your own robot talk"),
        (f"sidelong capture PORT --course {course}", "your own robot (PORT: see 'sidelong ports')"),
    ):
        _say(f"   {words:<70}{what}" if len(words) < 68 else f"   {words}\n   {'':<70}{what}")
    return EXIT_OK


def _live(run: DemoRun, course: Path, speed_up: float) -> None:
    """Capture the first run as ``sidelong capture`` does, readings and all."""
    from telemetry.commands import capture
    from telemetry.commands.demo_runs import robot_driving

    parser = argparse.ArgumentParser()
    capture.arguments(parser)
    labels = run.meta()
    with robot_driving(run, speed_up) as name:
        capture.run(parser.parse_args([
            name, "-o", str(run.path), "--course", str(course), "--truth", ",".join(run.truth), "--strategy", LIVE_STRATEGY,
            "--name", labels.name, "--robot", labels.robot, "--driven-by", labels.driven_by, "--remarks", labels.remarks,
            "--height", str(labels.height_mm), "--tag", "demo", "--tag", run.level,
        ]))  # fmt: skip


def _say(text: str) -> None:
    from telemetry.report.table import show

    show([text])
    sys.stdout.flush()
