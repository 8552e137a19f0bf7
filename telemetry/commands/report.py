"""``sidelong report``: one page for the team's notebook, a judge or the coach at home, complete in itself."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from telemetry.commands.compare import course_arguments, strategy_arguments
from telemetry.commands.one_by_one import not_compared
from telemetry.commands.options import old_name, quiet_option

if TYPE_CHECKING:
    from telemetry.replay.compare import ComparisonRequest
    from telemetry.report.margins_file import SavedMargins


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("recordings", nargs="+", metavar="FILE|FOLDER", help="recordings, folders of them, or patterns")
    parser.add_argument("-o", "--output", type=Path, metavar="FILE", help="the page to write: report.html")
    old_name(parser, "--out", "--output", type=Path, metavar="FILE")
    parser.add_argument("--in-use", default="", metavar="NAME", help="show what this strategy misread (default: the best)")
    parser.add_argument("--margins", type=Path, metavar="FILE", help="what 'sidelong stress --json FILE' wrote")
    parser.add_argument(
        "--measure", action="store_true",
        help="measure the margins of that strategy now, as 'sidelong stress' does: 10 s to 3 minutes more",
    )
    parser.add_argument("--force", action="store_true", help="replace the page if it is there")
    strategy_arguments(parser)
    course_arguments(parser)
    parser.epilog = (
        "The page needs no network and no other file, and can be printed.\n"
        "The exit code is 3 when a recording could not be read; the page then says which."
    )
    quiet_option(parser)


def run(args: argparse.Namespace) -> int:
    from telemetry.commands.capture import Progress
    from telemetry.commands.options import must_end, write_output
    from telemetry.errors import EXIT_OK, StorageError, UsageError
    from telemetry.palette_file import read_palette
    from telemetry.recording.library import make_known
    from telemetry.replay.compare import ComparisonRequest, compare
    from telemetry.replay.evaluate import loaded
    from telemetry.replay.scoring.results import ranked
    from telemetry.replay.sources import find_recordings
    from telemetry.report.margins_file import read_margins
    from telemetry.report.page.report import Contents, report_page
    from telemetry.report.progress import WORKING, progress_line, signs_of_life

    if args.output is None:
        raise UsageError("-o is missing: the page to write", todo="For example: sidelong report RUNS -o report.html")
    must_end(args.output, ".html")
    if args.output.exists() and not args.force:
        todo = "Choose another name, or give --force."
        raise StorageError("this file is there already", where=str(args.output), todo=todo)
    paths = find_recordings(args.recordings)
    make_known(paths, progress=Progress("reading recordings for the first time"))
    job = ComparisonRequest(tuple(args.strategy), tuple(args.settings), args.course, args.truth, args.palette, verdicts=True)
    if args.measure and args.margins:
        raise UsageError("--margins names margins that are measured already", todo="Leave it out, or --measure.")
    margins = read_margins(args.margins) if args.margins else None
    with signs_of_life(WORKING):
        comparison = compare(paths, job, progress=progress_line("replayed", len(paths)))
    names = [one.strategy for one in comparison.summaries]
    if args.in_use and args.in_use not in names:
        raise UsageError(f"'{args.in_use}' was not compared", todo=f"There are: {', '.join(names)}.")
    if len(paths) == 1 and comparison.problems and comparison.problems[0].problem:
        raise comparison.problems[0].problem
    good = [path for path in paths if path not in {one.path for one in comparison.problems}]
    palette = read_palette(Path(args.palette)) if args.palette else None
    if args.measure and any(one.runs for one in comparison.summaries):
        name = args.in_use or ranked(comparison.summaries)[0].strategy
        margins = _measured(good, job, name)
    with signs_of_life(WORKING):
        recordings = {path.as_posix(): loaded(path) for path in good}
        page = report_page(Contents(comparison, recordings, palette, margins, args.in_use))
    write_output(args.output, page)
    print(f"{args.output}: {len(good)} {'run' if len(good) == 1 else 'runs'}")
    return not_compared(one.problem for one in comparison.problems) if comparison.problems else EXIT_OK


def _measured(paths: Sequence[Path], job: ComparisonRequest, name: str) -> SavedMargins:
    """The margins of one of the strategies that were compared."""
    from telemetry.report.margins_file import margins_in
    from telemetry.report.progress import AT_WORK, say_at_the_start, signs_of_life, steps_line
    from telemetry.report.stress_json import stress_json
    from telemetry.tuning.runs import saved_runs
    from telemetry.tuning.stress import stress

    say_at_the_start(f"Measures the margins of {name}: 10 s to 3 minutes.")
    found = saved_runs(paths, course=job.course, palette=job.palette, truth=job.truth)
    with signs_of_life(AT_WORK):
        return margins_in(stress_json(stress(found.runs, job.chosen()[name], progress=steps_line())))
