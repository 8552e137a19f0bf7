"""sidelong tune: which settings of a strategy read every saved run right, and how far they may be off."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from telemetry.commands.compare import course_arguments
from telemetry.commands.options import json_option, quiet_option, write_output
from telemetry.extras import pip_here

if TYPE_CHECKING:
    from telemetry.reading.strategy import Strategy


def arguments(parser: argparse.ArgumentParser) -> None:
    """The options of the command."""
    parser.add_argument("recordings", nargs="+", metavar="FILE|FOLDER", help="recordings, folders of them, or patterns")
    strategy_argument(parser)
    parser.add_argument(
        "--over", action="append", default=[], metavar="STAGE.SETTING=LOW..HIGH[:STEP]",
        help="which settings to try, and in which range; may be repeated (default: those that change most)",
    )  # fmt: skip
    course_arguments(parser)
    json_option(parser, "also write the result")
    parser.add_argument(
        "--as-recorded", action="store_true", help="judge by the recordings alone, not by altered copies of them as well"
    )
    parser.add_argument(
        "--trials", type=int, default=2000, metavar="N", help="how many settings, where not all can be tried (default: 2000)"
    )
    parser.add_argument("-j", "--cores", type=int, metavar="N", help="work on N cores (default: all)")
    parser.epilog = (
        "Runs right come first, then room around the setting and altered copies read right, then the earliest reading.\n"
        "That takes 10 s to 2 minutes, with evidence longer; --as-recorded is the short search.\n"
        "The exit code is 0 when a recommendation was made, 3 when a recording could not be read."
    )
    quiet_option(parser)


def strategy_argument(parser: argparse.ArgumentParser) -> None:
    """The one strategy, and its settings of today."""
    parser.add_argument(
        "--strategy", required=True, metavar="NAME|FILE", help="a named strategy or a strategy file (.toml)"
    )
    parser.add_argument(
        "--set", action="append", default=[], metavar="STAGE.SETTING=VALUE", dest="settings",
        help="today's setting, where it is not the strategy's own; may be repeated",
    )  # fmt: skip


def how_long(strategy: Strategy) -> str:
    """How long a sweep of some thirty runs takes on two cores, as measured; a strategy that weighs works much longer."""
    from telemetry.tuning.evaluate import cost_of

    return "1 to 5 minutes" if cost_of(strategy, compiled=True) > 1 else "a few seconds to 2 minutes"


def run(args: argparse.Namespace) -> int:
    """Sweep, print, write the file asked for."""
    from telemetry.errors import EXIT_INPUT, EXIT_OK, UsageError, as_sentence
    from telemetry.reading.load import load_strategy
    from telemetry.replay.sources import find_recordings
    from telemetry.report.progress import AT_WORK, progress_line, say_at_the_start, signs_of_life, steps_line
    from telemetry.report.table import show
    from telemetry.report.tune_json import tune_json
    from telemetry.report.tune_text import tune_lines
    from telemetry.tuning.copies import altered_copies
    from telemetry.tuning.evaluate import SettingsSweep
    from telemetry.tuning.runs import saved_runs
    from telemetry.tuning.space import asked_axes
    from telemetry.tuning.tune import tune

    if (args.cores is not None and args.cores < 1) or args.trials < 1:
        raise UsageError("--cores and --trials must be 1 or more")
    strategy = load_strategy(args.strategy).override(*args.settings)
    axes = asked_axes(strategy, args.over)
    paths = find_recordings(args.recordings)
    long = how_long(strategy)
    say_at_the_start(
        f"Sweeps the settings of {strategy.name} over {len(paths)} {'run' if len(paths) == 1 else 'runs'}"
        + (f", as they were recorded: {long}." if args.as_recorded else
           f" and altered copies of them: {long} (--as-recorded: sooner, without the copies).")
    )  # fmt: skip
    found = saved_runs(
        paths, course=args.course, palette=args.palette, truth=args.truth, progress=progress_line("read", len(paths))
    )
    evaluator = SettingsSweep(cores=args.cores)
    if not evaluator.compiled:
        print(f"sidelong: without numba this takes about 200 times as long: {pip_here()} install numba", file=sys.stderr)
    with signs_of_life(AT_WORK):
        copies = [] if args.as_recorded else altered_copies(found.runs)
        tuning = tune(
            found.runs, strategy, axes=axes, copies=copies, evaluator=evaluator, trials=args.trials, progress=steps_line()
        )
    if args.json == "-":
        sys.stdout.write(tune_json(tuning))
    else:
        show(tune_lines(tuning))
        if found.untold:
            count = len(found.untold)
            print(f"left out, their course or colours are not known: {count} recordings, e.g. {found.untold[0]}")
        if args.json:
            write_output(Path(args.json), tune_json(tuning))
    for problem in found.problems:
        print(f"sidelong: left out: {as_sentence(problem)}", file=sys.stderr)
    return EXIT_INPUT if found.problems else EXIT_OK
