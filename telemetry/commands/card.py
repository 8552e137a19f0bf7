"""``sidelong card``: one printed page for the event."""

from __future__ import annotations

import argparse
from datetime import datetime
from pathlib import Path

from telemetry.commands.options import must_end
from telemetry.commands.reader import order_arguments, order_of, say_granted
from telemetry.commands.recipe import write_page
from telemetry.errors import EXIT_OK


def arguments(parser: argparse.ArgumentParser) -> None:
    """The options of the command."""
    order_arguments(parser)
    parser.add_argument("--language", choices=("micropython", "c"), default="micropython", help="of the robot's program")
    parser.add_argument("--cost-on", nargs="+", default=[], metavar="RUN", help="recorded runs: how many it reads right")
    parser.add_argument("-o", "--output", type=Path, metavar="FILE", required=True, help="the card: .html or .pdf")
    parser.add_argument("--force", action="store_true", help="write over a file that is there")


def run(args: argparse.Namespace) -> int:
    """Make the card."""
    from telemetry.replay.sources import find_recordings
    from telemetry.robot.card import Replayed, card_html
    from telemetry.robot.export import export
    from telemetry.robot.recipe.nearest import right_of
    from telemetry.robot.self_check import self_check

    must_end(args.output, ".html", ".pdf")
    order = order_of(args)
    checked = self_check(export(order, args.language))
    replayed = None
    if args.cost_on:
        runs = find_recordings(args.cost_on)
        right, judged = right_of({order.strategy.name: order.strategy}, runs)
        replayed = Replayed(right[order.strategy.name], judged)
    when = f"{datetime.now().astimezone():%d %B %Y, %H:%M}"
    write_page(card_html(order, checked, when, replayed, args.language), args.output, force=args.force)
    say_granted(order.granted)
    print(f"{args.output}: the run card of '{order.strategy.name}', fingerprint {order.fingerprint}")
    return EXIT_OK
