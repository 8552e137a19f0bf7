"""``sidelong screenshots``: pictures of every place, light and dark, at 100 and 200 %, of the program at work.

Everything in them happens: the built-in robot drives, is captured, recorded, calibrated and judged, as a user would do it.
"""

from __future__ import annotations

import argparse
import os
import subprocess
from pathlib import Path

from telemetry.commands.options import old_name
from telemetry.own_program import own_command

SCALES = (1, 2)


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("-o", "--output", type=Path, default=Path("pictures"), metavar="FOLDER", help="where they go")
    old_name(parser, "--out", "--output", type=Path)
    parser.add_argument("--scale", type=int, choices=SCALES, help="only 100 %% (1) or 200 %% (2); default: both")
    parser.add_argument("--here", action="store_true", help=argparse.SUPPRESS)


def run(args: argparse.Namespace) -> int:
    from telemetry.errors import EXIT_OK, MissingPartError

    args.output.mkdir(parents=True, exist_ok=True)
    if args.here:
        from gui.tour import take_pictures

        take_pictures(args.output, args.scale or 1)
        return EXIT_OK
    for scale in (args.scale,) if args.scale else SCALES:
        # The scale of a Qt application is fixed when it starts, so each one is a process of its own.
        surroundings = os.environ | {"QT_SCALE_FACTOR": str(scale)}
        surroundings.setdefault("QT_QPA_PLATFORM", "offscreen")
        words = ["screenshots", "--output", str(args.output), "--scale", str(scale), "--here"]
        done = subprocess.run(own_command(words), env=surroundings, check=False)
        if done.returncode != EXIT_OK:
            raise MissingPartError("the pictures could not be taken", todo="See the lines above for the reason.")
    return EXIT_OK
