"""``sidelong reader``: the reading logic as files for the robot, with a program that holds it beside the computer's."""

from __future__ import annotations

import argparse
from pathlib import Path

from telemetry.errors import EXIT_DIFFERS, EXIT_OK, CourseError, RecordingError, UsageError


def order_arguments(parser: argparse.ArgumentParser) -> None:
    """The options that say what is wanted for which robot."""
    parser.add_argument("strategy", metavar="STRATEGY", help="a named strategy, a strategy file (.toml) or your own (.py)")
    parser.add_argument("--course", metavar="FILE", type=Path, help="the course (default: that of the recording)")
    parser.add_argument("--palette", metavar="FILE", type=Path, help="the palette (default: the run's, or typical values)")
    parser.add_argument("--columns", metavar="NAMES", help='what the robot sends: "t/ms,colour,refl/%%,heading/deg,dist/cm"')
    parser.add_argument("--like", metavar="RUN", type=Path, help="a recording that has what the robot sends")
    parser.add_argument(
        "--set", action="append", default=[], metavar="STAGE.SETTING=VALUE", dest="settings",
        help="change a setting, for example hold.samples=2; may be repeated",
    )  # fmt: skip


def arguments(parser: argparse.ArgumentParser) -> None:
    """The options of the command."""
    order_arguments(parser)
    parser.add_argument("--language", choices=("micropython", "c"), default="micropython", help="of the robot's program")
    parser.add_argument("-o", "--output", type=Path, metavar="FOLDER", required=True, help="where to write the files")
    parser.add_argument("--force", action="store_true", help="write over files that are there")
    parser.epilog = (
        "check.py holds robot and computer side by side: 'micropython FOLDER/check.py < run.txt' prints what the robot's\n"
        "logic reads in a run; without input it replays built-in samples."
    )


def run(args: argparse.Namespace) -> int:
    """Make the files, write them, say what they are."""
    from telemetry.robot.export import export
    from telemetry.robot.self_check import self_check

    order = order_of(args)
    made = export(order, args.language)
    found = self_check(made)
    made.save(args.output, force=args.force)
    print(f"{order.strategy.name} for {order.course.name or 'the course'}, fingerprint {made.fingerprint}")
    for name, size in made.sizes.items():
        print(f"  {args.output / name}: {size:,} bytes")
    say_granted(order.granted)
    if order.simulated:
        print("  The palette is simulated: calibrate with your own sensor before you trust it.")
    print(f"  {found.said}" if found.same is not False else f"  NOT the same: {found.said}")
    if found.step:
        print(f"  {found.step}; a board takes longer")
    for caution in found.cautions:
        print(f"  Caution: {caution}.")
    if args.language == "c":
        print(f"Check it: cc -std=c99 {args.output}/*.c -o check && ./check < run.txt")
    else:
        print(f"Check it: micropython {args.output / 'check.py'} < run.txt")
    return EXIT_OK if found.same is not False else EXIT_DIFFERS


def say_granted(ranges: str) -> None:
    """Which ranges of the channels were taken for granted, if any."""
    if ranges:
        print(f"  Taken for granted: {ranges}. Give --palette or --like where your sensor's are others.")


def order_of(args: argparse.Namespace):  # type: ignore[no-untyped-def]
    """The order that the options describe."""
    from telemetry.course import load_course
    from telemetry.palette_file import read_palette
    from telemetry.reading.load import load_strategy
    from telemetry.recording.load import load
    from telemetry.robot.order import order_for_columns, order_like

    if (args.columns is None) == (args.like is None):
        raise UsageError("it is not known what the robot sends", todo="Give either --columns or --like.")
    if args.like is not None and args.like.is_dir():
        raise RecordingError("this is a folder", where=str(args.like), todo="Give one recording, for example runs/run1.h5.")
    strategy = load_strategy(args.strategy).override(*args.settings)
    palette = read_palette(args.palette) if args.palette else None
    course = load_course(args.course) if args.course else None
    if course is None and args.like is not None:
        course = load(args.like).course
    if course is None:
        raise CourseError("no course is given", where="--course", todo="A reader is made for one course.")
    if args.like is not None:
        return order_like(strategy, course, args.like, palette)
    return order_for_columns(strategy, course, args.columns, palette)
