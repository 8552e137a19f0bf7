"""``sidelong export``: write recordings as CSV or Parquet, or read such files back."""

from __future__ import annotations

import argparse
from pathlib import Path

from telemetry.commands.capture import Progress, say
from telemetry.commands.one_by_one import one_by_one
from telemetry.errors import UsageError


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("files", type=Path, nargs="+", metavar="FILE", help="recordings, or exported files to bring back")
    parser.add_argument("-o", "--output", type=Path, metavar="FILE", help="for a single one: what to call it")
    parser.add_argument("--format", choices=("csv", "parquet"), default="csv", help="default: csv")
    parser.add_argument("--back", action="store_true", help="make recordings of exported files")
    parser.add_argument("--edited", action="store_true", help="with --back: lines were taken out or put in on purpose")


def run(args: argparse.Namespace) -> int:
    from telemetry.recording.bring_back import bring_back
    from telemetry.recording.exchange import FORMATS, export, sidecar
    from telemetry.recording.load import load
    from telemetry.recording.names import recording_called

    if args.output is not None and len(args.files) > 1:
        raise UsageError("-o names one file, but there are several to write")

    def one(path: Path) -> None:
        if args.back:
            if path.suffix not in FORMATS:
                raise UsageError(f"{path} is neither .csv nor .parquet")
            target = recording_called(args.output or path.with_suffix(".h5"))
            beside = sidecar(path)
            if path.suffix == ".csv" and not beside.exists():
                say(f"note: {beside} is not there: the course, the truth, the other labels, the robot's notes and its raw")
                say("      text were kept in it. They are lost in this recording; only the samples come back.")
            say(f"{target}: {bring_back(path, target, edited=args.edited)} samples")
            return
        target = args.output or path.with_suffix(f".{args.format}")
        if target.suffix not in FORMATS:
            todo = f"To make a recording of it: sidelong export --back {path}" if path.suffix in FORMATS else ""
            raise UsageError(f"{target} is neither .csv nor .parquet", todo=todo)
        written = export(load(path), target, progress=Progress("writing"))
        say(f"{path} -> {' and '.join(str(one) for one in written)}")

    return one_by_one(args.files, one)
