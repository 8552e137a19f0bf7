"""``sidelong robot``: the built-in robot drives and serves its line stream, as a real one would."""

from __future__ import annotations

import argparse
import math
import os
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from telemetry.errors import EXIT_OK, UsageError

if TYPE_CHECKING:
    from telemetry.course import Course
    from telemetry.sources.synthetic.run import SimulatedRun


def arguments(parser: argparse.ArgumentParser) -> None:
    from telemetry.sources.synthetic.levels import LEVELS

    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    levels = "\n".join(f"  {name:<10} {level.what}" for name, level in LEVELS.items())
    parser.epilog = (
        f"levels, easiest first:\n{levels}\n\n"
        "The first line on stdout is what to capture from; what stands on the field is said on stderr. "
        "Everything it sends is simulated."
    )
    parser.add_argument("--level", default="practice", choices=list(LEVELS), help="how hard to read (default: practice)")
    parser.add_argument("--seed", type=int, default=0, metavar="N", help="the same seed gives the same run (default: 0)")
    default = "pty" if os.name == "posix" else "tcp"
    parser.add_argument("--link", default=default, metavar="LINK", help=f"pty, tcp, tcp:PORT or stdout (default: {default})")
    parser.add_argument(
        "--speed-up", type=float, default=1.0, metavar="X", help="serve X times as fast; 0: as fast as it goes (default: 1)"
    )
    parser.add_argument("--loop-runs", type=int, default=1, metavar="N", help="N runs in a row, 0: for ever (default: 1)")
    parser.add_argument("--rest", type=float, default=1.5, metavar="S", help="with several runs: seconds at rest between")
    parser.add_argument(
        "--like", nargs="+", default=[], metavar="RUN",
        help="be like the robot of these recordings: its noise, rhythm, spot, light, height, gaps, slip and speed, fitted",
    )  # fmt: skip
    parser.add_argument("--show-model", action="store_true", help="with --like: print what was fitted, and drive nothing")
    parser.add_argument("--course", type=Path, metavar="FILE", help="a course of your own (default: Orchard Row)")
    parser.add_argument("--truth", metavar="COLOURS", help="what stands there, in slot order (default: random)")
    parser.add_argument("--day", type=int, metavar="N", help="runs of one day share the light of the place and the sensor")
    parser.add_argument("--still", metavar="COLOUR", help="stand over this colour for 3 s (none: the mat), to calibrate")
    parser.add_argument("--codes-only", action="store_true", help="a robot that sends its sensor's colour, no raw channels")
    parser.add_argument("--raw-only", action="store_true", help="a robot that sends raw channels, no colour")
    parser.add_argument("--number-codes", action="store_true", help="colours as whole numbers, explained by a #codes line")
    parser.add_argument("--two-sensors", action="store_true", help="Orchard Row with sensors at flank and nose")
    parser.add_argument("--reversing", action="store_true", help="Orchard Row with a last leg driven backwards")
    parser.add_argument("--stop", type=float, default=0.0, metavar="S", help="stop S seconds at each marker (default: 0)")
    parser.add_argument("--checksum", action="store_true", help="end every line with a checksum")
    parser.add_argument("--show-course", action="store_true", help="print the course as TOML, and drive nothing")


def run(args: argparse.Namespace) -> int:
    from telemetry.course import format_truth, load_course, parse_truth
    from telemetry.sources.serve import open_outlet, serve
    from telemetry.sources.synthetic.run import built_in_course, simulate_still
    from telemetry.sources.synthetic.runs import runs_in_a_row
    from telemetry.sources.synthetic.source import SyntheticRobot

    if args.speed_up < 0 or args.loop_runs < 0 or min(args.seed, args.rest, args.stop) < 0:
        raise UsageError("--speed-up, --loop-runs, --seed, --rest and --stop must be 0 or more")
    if args.codes_only and args.raw_only:
        raise UsageError("--codes-only and --raw-only leave nothing to send", todo="Give one of them.")
    if args.course is not None and (args.two_sensors or args.reversing):
        raise UsageError("--course cannot be combined with --two-sensors or --reversing", todo="They are Orchard Row's.")
    if args.course is not None:
        course = load_course(args.course)
    else:
        course = built_in_course("two" if args.two_sensors else "back" if args.reversing else "row")
    if args.show_course:
        print(course.text, end="")
        return EXIT_OK
    physics = None
    if args.show_model and not args.like:
        raise UsageError("--show-model needs --like", todo="Name recordings: sidelong robot --like RUNS --show-model")
    if args.like:
        from telemetry.replay.sources import find_recordings
        from telemetry.report.model_text import model_lines
        from telemetry.report.table import show
        from telemetry.tuning.like import driven_like, palette_like, physics_like
        from telemetry.tuning.robot_model import fit_robot
        from telemetry.tuning.runs import saved_runs

        recorded = saved_runs(find_recordings(args.like)).runs
        model = fit_robot(recorded, intervals=args.show_model)
        physics = physics_like(model, recorded[0].course)
        if args.show_model:
            on = recorded[0].course
            own = palette_like(physics, on) if model.height.value is not None else None
            driven = driven_like(physics, on, len(recorded), palette=own)
            show(model_lines(model, fit_robot(driven, intervals=False)))
            return EXIT_OK
        if args.course is None and not (args.two_sensors or args.reversing):
            course = recorded[0].course
    _say_looks(course, args.still)
    truth = None if args.truth is None else parse_truth(args.truth, course, "--truth")
    options = {name: getattr(args, name) for name in ("codes_only", "raw_only", "number_codes", "checksum", "day")}
    options["stop_ms"] = args.stop * 1000.0
    runs = runs_in_a_row(
        args.level, args.seed, args.loop_runs or None, args.rest * 1000.0, course=course, truth=truth,
        physics=physics, **options,
    )
    if args.still is not None:
        still = simulate_still(
            args.still, args.level, args.seed, day=args.day, physics=physics, codes_only=args.codes_only, among=course
        )
        runs = iter([still])

    def announced() -> Iterator[SimulatedRun]:
        for one in runs:
            kind = f"like {args.like[0]}" if args.like else f"level {one.level}"
            what = f"simulated robot, {kind}, seed {one.seed}: {format_truth(one.truth)}"
            print(what, file=sys.stderr, flush=True)
            yield one

    outlet = open_outlet(args.link)
    if outlet.name:
        print(outlet.name, flush=True)
        print(f"waiting for a listener, e.g.: sidelong capture {outlet.name}", file=sys.stderr, flush=True)
    robot = SyntheticRobot(announced(), speed_up=args.speed_up or math.inf)
    serve(robot, outlet)
    return EXIT_OK


def _say_looks(course: Course, still: str | None) -> None:
    """Which colours the robot has no surface for, and what it takes instead. Raises UsageError for a misspelt one."""
    from telemetry.course import NONE
    from telemetry.course.values import nearest
    from telemetry.safe_text import printable
    from telemetry.sources.synthetic.surfaces import FIELD, PATCHES, patch_of

    own = (*course.colours, *(decoy.colour for decoy in course.decoys if decoy.colour))
    known = {*PATCHES} - {FIELD}
    if still is not None and still not in {NONE, *own} and still.lower() not in known:
        raise UsageError(f"the built-in robot has no surface called '{still}'", todo=nearest(still, [*own, *known]))
    for colour, patch in patch_of(own).items():
        if colour.lower() not in known:
            words = f"'{colour}' is not a colour that the built-in robot knows: it takes the surface '{patch}' for it"
            print(f"sidelong: {printable(words)}", file=sys.stderr, flush=True)
