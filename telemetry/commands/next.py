"""sidelong next: which layout to set up next, so that the run tells most about strategies that are still tied."""

from __future__ import annotations

import argparse

from telemetry.commands.compare import course_arguments, strategy_arguments
from telemetry.commands.options import quiet_option


def arguments(parser: argparse.ArgumentParser) -> None:
    """The options of the command."""
    parser.add_argument("recordings", nargs="+", metavar="FILE|FOLDER", help="recordings, folders of them, or patterns")
    strategy_arguments(parser)
    course_arguments(parser)
    parser.add_argument(
        "--layouts", type=int, default=40, metavar="N", help="of how many layouts to choose (default: 40)"
    )
    parser.epilog = (
        "Without --strategy the best one of these runs and those that are not yet told from it, three at the most.\n"
        "The layouts are driven by the built-in robot made like the recorded one; what it says is simulated.\n"
        "That takes 10 s to 2 minutes; --layouts 10 is the short search. Ctrl-C stops it; what is known by then is printed."
    )
    quiet_option(parser)


def run(args: argparse.Namespace) -> int:
    """Compare, fit, drive layouts, print."""
    from telemetry.errors import EXIT_INPUT, EXIT_OK, UsageError
    from telemetry.replay.compare import ComparisonRequest, compare
    from telemetry.replay.sources import find_recordings
    from telemetry.report.next_text import next_lines
    from telemetry.report.progress import AT_WORK, progress_line, say_at_the_start, signs_of_life, steps_line
    from telemetry.report.table import show
    from telemetry.tuning.choice import choose_strategy
    from telemetry.tuning.next_run import LayoutSearch
    from telemetry.tuning.runs import saved_runs

    if args.layouts < 2:
        raise UsageError("--layouts must be 2 or more")
    paths = find_recordings(args.recordings)
    job = ComparisonRequest(
        tuple(args.strategy), tuple(args.settings), args.course, args.truth, args.palette, reasons=False,
        settings_in_names=True,
    )  # fmt: skip
    say_at_the_start(
        f"Drives up to {args.layouts} layouts on this computer, with a robot made like yours: 10 s to 2 minutes "
        "(--layouts 10: sooner; Ctrl-C prints what is known by then)."
    )
    found = saved_runs(paths, course=args.course, palette=args.palette, truth=args.truth)
    strategies = dict(job.chosen())
    if not args.strategy:
        comparison = compare(paths, job, progress=progress_line("replayed", len(paths)))
        choice = choose_strategy(comparison.results, comparison.summaries)
        if choice is not None:
            tied = [choice.best, *(rival.name for rival in choice.rivals if not rival.decided)][:3]
            strategies = {name: strategies[name] for name in tied}
    search = LayoutSearch(found.runs, strategies, progress=steps_line(), layouts=args.layouts)
    try:
        with signs_of_life(AT_WORK):
            search.go_on()
    except KeyboardInterrupt:
        known = search.so_far()
        if known is not None:
            show(next_lines(known))
        raise
    layout = search.so_far(stopped=False)
    assert layout is not None
    show(next_lines(layout))
    return EXIT_INPUT if found.problems else EXIT_OK
