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
    must_end(args.output, ".html", ".pdf")
    from telemetry.reading.fingerprint import fingerprint
    from telemetry.replay.sources import find_recordings
    from telemetry.robot.recipe.nearest import nearest
    from telemetry.robot.recipe.page import recipe_html
    from telemetry.robot.recipe.write import recipe_of, why_not

    order = order_of(args)
    plan, remark = order.plan, ""
    if why_not(plan):
        found = nearest(order, find_recordings(args.cost_on) if args.cost_on else ())
        plan = found.plan
        wanted = f"'{order.strategy.name}' cannot be built from blocks: {found.why}."
        same = plan.strategy.name == order.strategy.name
        instead = "It is written for the sensor's own colours instead" if same else f"Instead: '{plan.strategy.name}'"
        remark = f"{wanted} {instead}; {found.cost}."
    page = recipe_html(plan, recipe_of(plan), fingerprint(plan), remark, order.simulated)
    write_page(page, args.output, force=args.force)
    if remark:
        print(remark)
    say_granted(order.granted)
    print(f"{args.output}: the recipe of '{plan.strategy.name}', fingerprint {fingerprint(plan)}")
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
