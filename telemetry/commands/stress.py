"""sidelong stress: how much faster, higher, darker... the robot may be before a strategy fails, from altered recordings."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from telemetry.commands.compare import course_arguments
from telemetry.commands.options import json_option, quiet_option, write_output
from telemetry.commands.tune import how_long, strategy_argument


def arguments(parser: argparse.ArgumentParser) -> None:
    """The options of the command."""
    parser.add_argument("recordings", nargs="+", metavar="FILE|FOLDER", help="recordings, folders of them, or patterns")
    strategy_argument(parser)
    parser.add_argument("--only", action="append", default=[], metavar="WHAT,...", help="only these, e.g. speed,height")
    parser.add_argument("--no-pairs", action="store_true", help="do not alter speed and height together")
    course_arguments(parser)
    json_option(parser, "also write the result")
    parser.add_argument("--copies", type=int, metavar="N", help="altered copies of a run at each value (default: up to 3)")
    parser.add_argument("-j", "--cores", type=int, metavar="N", help="work on N cores (default: all)")
    parser.epilog = (
        "Everything it says is predicted from recordings that were altered, not recorded.\n"
        "That takes 10 s to 3 minutes; --only speed --no-pairs takes a few seconds.\n"
        "The exit code is 0 when margins were found, 3 when a recording could not be read or no run is right as it is."
    )
    quiet_option(parser)


def run(args: argparse.Namespace) -> int:
    """Alter, replay, print, write the file asked for."""
    from telemetry.errors import EXIT_INPUT, EXIT_OK, UsageError, as_sentence
    from telemetry.reading.load import load_strategy
    from telemetry.replay.sources import find_recordings
    from telemetry.report.progress import AT_WORK, progress_line, say_at_the_start, signs_of_life, steps_line
    from telemetry.report.stress_json import stress_json
    from telemetry.report.stress_text import stress_lines
    from telemetry.report.table import show
    from telemetry.tuning.directions import asked_directions
    from telemetry.tuning.evaluate import SettingsSweep
    from telemetry.tuning.runs import saved_runs
    from telemetry.tuning.stress import stress

    if (args.cores is not None and args.cores < 1) or (args.copies is not None and not 1 <= args.copies <= 100):
        raise UsageError("--cores must be 1 or more, --copies 1 to 100")
    directions = asked_directions(",".join(args.only))
    strategy = load_strategy(args.strategy).override(*args.settings)
    paths = find_recordings(args.recordings)
    say_at_the_start(
        f"Alters {len(paths)} {'run' if len(paths) == 1 else 'runs'} until {strategy.name} fails: {how_long(strategy)} "
        "(--only speed --no-pairs: a tenth of it)."
    )
    found = saved_runs(
        paths, course=args.course, palette=args.palette, truth=args.truth, progress=progress_line("read", len(paths))
    )
    with signs_of_life(AT_WORK):
        result = stress(
            found.runs, strategy, directions=directions, pairs=not args.no_pairs, evaluator=SettingsSweep(cores=args.cores),
            progress=steps_line(), seeds=args.copies,
        )  # fmt: skip
    if args.json == "-":
        sys.stdout.write(stress_json(result))
    else:
        show(stress_lines(result))
        if args.json:
            write_output(Path(args.json), stress_json(result))
    for problem in found.problems:
        print(f"sidelong: left out: {as_sentence(problem)}", file=sys.stderr)
    return EXIT_INPUT if found.problems else EXIT_OK
