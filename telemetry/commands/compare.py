"""sidelong compare: which strategy reads these runs right, and why not."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from telemetry.commands.one_by_one import not_compared
from telemetry.commands.options import json_option, no_recording, quiet_option, write_output


def arguments(parser: argparse.ArgumentParser) -> None:
    """The options of the command."""
    parser.add_argument("recordings", nargs="+", metavar="FILE|FOLDER", help="recordings, folders of them, or patterns")
    strategy_arguments(parser)
    course_arguments(parser)
    json_option(parser, "also write the results")
    parser.add_argument("--junit", metavar="FILE", type=no_recording, help="also write a test report (JUnit XML)")
    parser.add_argument("--why", action="store_true", help="name every wrong run of every strategy, not only the first few")
    parser.add_argument(
        "--verdicts", action="store_true", help="ask of every misread run: sensor or logic? (else, of many, only of some)"
    )
    parser.add_argument("-j", "--cores", type=int, metavar="N", help="work on N cores (default: all)")
    parser.add_argument(
        "--fail-on-wrong", action="store_true", help="exit with 1 where a strategy read a run wrong, or none could be judged"
    )
    parser.epilog = (
        "The exit code is 0 when the comparison was made, however many runs were read wrong (but see --fail-on-wrong);\n"
        "3 when a recording could not be read."
    )
    quiet_option(parser)


def strategy_arguments(parser: argparse.ArgumentParser) -> None:
    """The options that choose strategies."""
    parser.add_argument(
        "--strategy", action="append", default=[], metavar="NAME|FILE",
        help="a named strategy, a strategy file (.toml) or your own logic (.py); may be repeated; default: all named ones",
    )  # fmt: skip
    parser.add_argument(
        "--set", action="append", default=[], metavar="STAGE.SETTING=VALUE", dest="settings",
        help="change a setting, for example hold.samples=2; may be repeated",
    )  # fmt: skip


def course_arguments(parser: argparse.ArgumentParser) -> None:
    """The options that stand in for what the recordings say."""
    parser.add_argument("--palette", metavar="FILE", default="", help="the palette, instead of the recordings' own")
    parser.add_argument("--course", metavar="FILE", default="", help="the course, instead of the recordings' own")
    parser.add_argument("--truth", metavar="COLOURS", default="", help="what really stood there, in all of them alike")


def run(args: argparse.Namespace) -> int:
    """Compare, print, write the files asked for."""
    from telemetry.commands.capture import Progress
    from telemetry.errors import EXIT_DIFFERS, EXIT_OK, UsageError
    from telemetry.logbook import begin_log
    from telemetry.recording.library import make_known
    from telemetry.replay.compare import ComparisonRequest, compare
    from telemetry.replay.evaluate.pool import collect_seldom
    from telemetry.replay.sources import find_recordings
    from telemetry.report.comparison_json import comparison_json
    from telemetry.report.comparison_text import comparison_lines
    from telemetry.report.junit import junit_xml
    from telemetry.report.progress import WORKING, progress_line, signs_of_life
    from telemetry.report.table import show

    if args.cores is not None and args.cores < 1:
        raise UsageError("--cores must be 1 or more")
    begin_log()
    collect_seldom()
    paths = find_recordings(args.recordings)
    make_known(paths, progress=Progress("reading recordings for the first time"))
    job = ComparisonRequest(
        tuple(args.strategy), tuple(args.settings), args.course, args.truth, args.palette, verdicts=args.verdicts,
        every_reason=bool(args.why or args.json or args.junit), settings_in_names=True,
    )
    with signs_of_life(WORKING):
        comparison = compare(paths, job, cores=args.cores, progress=progress_line("replayed", len(paths)))
    if len(paths) == 1 and comparison.problems and comparison.problems[0].problem:
        raise comparison.problems[0].problem
    wanted = (comparison.results, comparison.summaries, comparison.robot, comparison.own)
    document = comparison_json(*wanted) if args.json else ""
    if args.json == "-":
        sys.stdout.write(document)
    else:
        if comparison.results:
            show(comparison_lines(comparison, everything=args.why))
        if args.json:
            write_output(Path(args.json), document)
    if args.junit:
        write_output(Path(args.junit), junit_xml((*comparison.results, *comparison.robot)))
    if comparison.problems:
        return not_compared(one.problem for one in comparison.problems)
    # Where nothing was judged a test must not pass either.
    every_right = all(one.runs and one.correct == one.runs for one in comparison.summaries)
    return EXIT_DIFFERS if args.fail_on_wrong and not every_right else EXIT_OK
