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
    from telemetry.errors import EXIT_OK, StrategyError, UsageError
    from telemetry.reading.catalogue import AUTO, STAGES
    from telemetry.reading.load import load_strategy, write_toml
    from telemetry.reading.strategies import STRATEGIES
    from telemetry.reading.strategy import did_you_mean
    from telemetry.report.strategies_text import describe_auto, describe_stage, describe_strategy, overview
    from telemetry.report.table import show

    name = args.name
    if name is None:
        if args.toml:
            raise UsageError("--toml needs a strategy", todo="For example: sidelong strategies checklist --toml")
        show(overview())
        return EXIT_OK
    stage = describe_auto() if name == AUTO else describe_stage(STAGES[name]) if name in STAGES else []
    if stage and name not in STRATEGIES:
        if args.toml:
            raise UsageError(
                f"'{name}' is a stage, and only a strategy makes a file",
                todo="For example: sidelong strategies checklist --toml",
            )
        show(stage)
        return EXIT_OK
    known = [AUTO, *STRATEGIES, *STAGES]
    if name not in STRATEGIES and name.replace("-", "").isidentifier():
        raise StrategyError(f"there is no strategy or stage '{name}'", todo=did_you_mean(name, known))
    strategy = load_strategy(name)
    if args.toml:
        print(write_toml(strategy, explained=True), end="")
        return EXIT_OK
    show([*describe_strategy(strategy), *(["", "There is a stage of that name too:", *stage] if stage else [])])
    return EXIT_OK
