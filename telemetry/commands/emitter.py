"""``sidelong emitter``: write the file that lets a real robot print the line stream."""

from __future__ import annotations

import argparse
import sys
from importlib.resources import files
from pathlib import Path

from telemetry.errors import EXIT_OK, StorageError
from telemetry.text_in_place import write_text


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("-o", "--output", type=Path, metavar="FILE", help="where to write it (default: standard output)")
    parser.add_argument(
        "--language", choices=("micropython", "c"), default="micropython", help="c: a header for boards programmed in C++"
    )
    parser.add_argument("--force", action="store_true", help="write over a file that is there")


def run(args: argparse.Namespace) -> int:
    name = "programs/emitter.h" if args.language == "c" else "emitter.py"
    text = files("telemetry.robot").joinpath(name).read_text(encoding="utf-8")
    if args.output is None:
        sys.stdout.write(text)
        return EXIT_OK
    try:
        args.output.parent.mkdir(parents=True, exist_ok=True)
        write_text(args.output, text, new=not args.force)
    except FileExistsError as error:
        if args.force:
            raise
        todo = "Your functions may be in it: choose another name, or give --force."
        raise StorageError("this file is there already", where=str(args.output), todo=todo) from error
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise StorageError(f"cannot be written: {reason}", where=str(args.output), todo="Choose another place.") from error
    if args.language == "c":
        print(f"{args.output}: include it in your program; its first lines show how.")
    else:
        print(f"{args.output}: fill in the functions under 'Your robot', then put it onto the robot beside your program.")
    return EXIT_OK
