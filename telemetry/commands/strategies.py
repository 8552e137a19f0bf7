"""sidelong strategies: what reading logic there is, in plain words."""

from __future__ import annotations

import argparse


def arguments(parser: argparse.ArgumentParser) -> None:
    """The options of the command."""
    parser.add_argument("name", nargs="?", metavar="NAME|FILE", help="a strategy or a stage; default: list all")
    parser.add_argument("--toml", action="store_true", help="print the strategy as a file to change and to compare with")
    parser.epilog = (
        "A strategy is a row of stages; each sample goes through them in order. Make your own from a named one:\n"
        "  sidelong strategies checklist --toml > ours.toml\n"
        "  sidelong compare RUNS --strategy ours.toml --strategy checklist"
    )


def run(args: argparse.Namespace) -> int:
    """List, or describe one."""
    from telemetry.errors import EXIT_OK, UsageError
    from telemetry.report.strategies_text import describe_stage, describe_strategy, overview
    from telemetry.report.table import show

    if args.name is None:
        if args.toml:
            raise UsageError("--toml needs a strategy", todo="For example: sidelong strategies checklist --toml")
        show(overview())
        return EXIT_OK
    from telemetry.reading.catalogue import STAGES
    from telemetry.reading.load import load_strategy

    if args.name in STAGES and not args.toml and not _is_strategy(args.name):
        show(describe_stage(STAGES[args.name]))
        return EXIT_OK
    strategy = load_strategy(args.name)
    if args.toml:
        from telemetry.reading.load import write_toml

        print(write_toml(strategy), end="")
        return EXIT_OK
    lines = describe_strategy(strategy)
    if args.name in STAGES:
        lines += ["", *describe_stage(STAGES[args.name])]
    show(lines)
    return EXIT_OK


def _is_strategy(name: str) -> bool:
    from telemetry.reading.strategies import STRATEGIES

    return name in STRATEGIES
