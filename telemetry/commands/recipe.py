"""``sidelong recipe``: a strategy as a sheet of steps, for teams that program in blocks."""

from __future__ import annotations

import argparse
from pathlib import Path

from telemetry.commands.options import must_end, write_output
from telemetry.commands.reader import order_arguments, order_of, say_granted
from telemetry.errors import EXIT_OK, StorageError


def arguments(parser: argparse.ArgumentParser) -> None:
    """The options of the command."""
    order_arguments(parser)
    parser.add_argument("--cost-on", nargs="+", default=[], metavar="RUN", help="recorded runs, to say what it costs")
    parser.add_argument("-o", "--output", type=Path, metavar="FILE", required=True, help="the sheet: .html or .pdf")
    parser.add_argument("--force", action="store_true", help="write over a file that is there")
    parser.epilog = (
        "A strategy that cannot be said in blocks is replaced by the nearest that can; the sheet and this command say so,\n"
        "and with --cost-on what that costs."
    )


def run(args: argparse.Namespace) -> int:
    """Make the sheet."""
    from telemetry.replay.sources import find_recordings
    from telemetry.robot.recipe.sheet import sheet

    must_end(args.output, ".html", ".pdf")
    order = order_of(args)
    made = sheet(order, find_recordings(args.cost_on) if args.cost_on else ())
    write_page(made.page, args.output, force=args.force)
    if made.remark:
        print(made.remark)
    say_granted(order.granted)
    print(f"{args.output}: the recipe of '{made.plan.strategy.name}', fingerprint {made.fingerprint}")
    return EXIT_OK


def write_page(page: str, path: Path, *, force: bool) -> None:
    """A page as HTML, or as PDF where the name ends so. Raises StorageError where the file is there already."""
    from telemetry.robot.pdf import write_pdf

    if path.exists() and not force:
        raise StorageError("this file is there already", where=str(path), todo="Choose another name, or give --force.")
    if path.suffix.lower() == ".pdf":
        write_pdf(page, path)
        return
    write_output(path, page)
