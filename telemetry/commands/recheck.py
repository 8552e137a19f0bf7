"""``sidelong recheck``: on the day, in a minute, whether a palette still holds."""

from __future__ import annotations

import argparse
from pathlib import Path

from telemetry.errors import EXIT_DIFFERS, EXIT_OK, PaletteError, UsageError


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.epilog = (
        "example:\n  sidelong recheck palette.toml none=now_none.txt red=now_red.txt\n\n"
        "The exit code is 0 when nothing has moved, 1 when something has (height, light or dirt)."
    )
    parser.add_argument("palette", type=Path, metavar="PALETTE", help="the palette to check")
    parser.add_argument(
        "captures", nargs="*", metavar="COLOUR=FILE", help="still captures of today; two or three are enough"
    )
    parser.add_argument(
        "--columns", metavar="NAMES", help='columns of a text without a header, such as "t/ms,red,green,blue"'
    )
    parser.add_argument("--sensor", default="", metavar="NAME", help="which sensor, where the robot has several")
    parser.add_argument(
        "--from", dest="source", metavar="SOURCE", help="take them now, guided, from this port or other source"
    )
    parser.add_argument("--colours", default="", metavar="LIST", help="which, with --from (default: none and two others)")
    parser.add_argument("--seconds", type=float, default=2.0, metavar="S", help="how long each capture lasts (default: 2)")


OTHER_CODE = 0.5
"""Below such a share of samples with the palette's code a robot that goes by codes reads otherwise."""


def run(args: argparse.Namespace) -> int:
    import numpy as np

    from telemetry.calibrate.recheck import recheck
    from telemetry.commands.calibrate import _guided, file_captures
    from telemetry.palette_file import read_palette
    from telemetry.reading.strategy import did_you_mean
    from telemetry.report.table import TableColumn, show, table

    palette = read_palette(args.palette)
    captures = file_captures(args.captures, args.columns, args.sensor)
    if args.source:
        args.heights = args.lights = ""
        args.colours = args.colours or ",".join(palette.names[:3])
        captures += _guided(args)
    elif not captures:
        raise UsageError("there is nothing to compare", todo="Give none=FILE red=FILE, or --from SOURCE.")
    for one in captures:
        if palette.get(one.colour) is None:
            todo = did_you_mean(one.colour, list(palette.names))
            raise PaletteError(f"the palette has no colour '{one.colour}'", where=one.where, todo=todo)
    if len({one.colour for one in captures}) < 2 and any(np.isfinite(one.values).any() for one in captures):
        other = next((name for name in palette.names if name != captures[0].colour), "none")
        todo = f"Take a second colour too: {captures[0].colour}=FILE {other}=FILE."
        raise UsageError("one surface cannot tell another height from another light", where=captures[0].colour, todo=todo)
    answer = recheck(palette, captures)
    rows = []
    for check in answer.colours:
        levels = ["-" if ratio != ratio else f"x{ratio:.2f}" for ratio in check.ratio]  # noqa: PLR0124 (NaN: not sent)
        code = "-" if check.code_agrees is None else f"{100 * check.code_agrees:.0f} %"
        rows.append((check.colour, *levels, f"{check.deviations:.1f}", check.looks_like, code))
    heads = (
        TableColumn("colour"), TableColumn("red", True), TableColumn("green", True), TableColumn("blue", True),
        TableColumn("refl", True), TableColumn("deviations", True), TableColumn("looks like"),
        TableColumn("code as before", True),
    )  # fmt: skip
    show(table(heads, rows))
    notes = [f"Note: {one.colour}: {doubt}." for one in captures for doubt in one.doubts]
    notes += [
        f"Note: over {one.colour} the sensor's own code is another than it was: a robot that goes by codes reads otherwise."
        for one in answer.colours
        if one.code_agrees is not None and one.code_agrees < OTHER_CODE
    ]
    show(["", *notes, *([""] if notes else []), f"{answer.verdict}: {answer.why}.", answer.todo])
    return EXIT_OK if answer.same else EXIT_DIFFERS
