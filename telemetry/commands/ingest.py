"""``sidelong ingest``: make a recording of a saved or fetched text stream, by the very way a capture goes."""

from __future__ import annotations

import argparse
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from telemetry.beside import is_recording
from telemetry.commands.capture import Progress, say, say_recovered, stop_signals
from telemetry.commands.labels import course_of, label_arguments, meta_of, palette_of, target_path
from telemetry.commands.options import quiet_option
from telemetry.errors import EXIT_INTERRUPTED, EXIT_OK, StreamError
from telemetry.safe_text import as_typed

if TYPE_CHECKING:
    from telemetry.recording.assemble import StreamSummary


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "text", type=Path, metavar="FILE", help="the robot's text, as it was printed; or a recording, with --columns"
    )
    where = parser.add_mutually_exclusive_group()
    where.add_argument("-o", "--output", type=Path, metavar="FILE", help="the recording to make (.h5)")
    where.add_argument("--folder", type=Path, default=Path("runs"), help="or the folder it goes to (default: runs)")
    label_arguments(parser)
    quiet_option(parser)


def run(args: argparse.Namespace) -> int:
    from dataclasses import replace

    from telemetry.recording.capture import Capture
    from telemetry.recording.nothing_read import take_back
    from telemetry.recording.read_again import read_again
    from telemetry.sources.text_file import TextFile

    course, palette = course_of(args), palette_of(args)
    meta = meta_of(args, source=f"text {args.text.name}", course=course, palette=palette)
    meta = replace(meta, fetched=True)
    made = datetime.fromtimestamp(args.text.stat().st_mtime, UTC) if args.text.is_file() else None
    path = target_path(args.output, args.folder, course, args.name or args.text.stem)
    say_recovered(path.parent)
    if args.columns and is_recording(args.text):
        read = read_again(args.text, path, meta)
        if not read.summary.rows:
            raise take_back(path, args.text)
        _say_what_was_made(path, read.summary)
        return EXIT_OK
    if args.text.is_fifo():
        say(f"{args.text} is a pipe: waiting for whoever writes into it (Ctrl-C ends that)")
    capture = Capture(TextFile(args.text), path, meta.begun(made))
    capture.start()
    with stop_signals(capture):
        while capture.running:
            capture.wait(0.1)
    interrupted = capture.interrupted
    result = capture.close(progress=Progress("making the recording"))
    if capture.error is not None:
        raise capture.error
    if result is None:
        raise StreamError("the file is empty", where=str(args.text), todo="Fetch the stream again")
    if not result.summary.rows and not interrupted:
        raise take_back(capture.path, args.text)
    _say_what_was_made(capture.path, result.summary)
    return EXIT_INTERRUPTED if interrupted else EXIT_OK


def _say_what_was_made(path: Path, summary: StreamSummary) -> None:
    from telemetry.report.just_made import JustMade

    just_made = JustMade(path, summary)
    say(just_made.line(fetched=True))
    for remark in summary.remarks:
        say(f"note: {remark}")
    if any("#codes line" in remark for remark in summary.remarks):
        say("note: a line such as #codes,0=none,5=rust at the top of the text says what they mean; then ingest it again")
    warnings = just_made.warnings()
    for words in warnings:
        say(f"note: {words}")
    if any(words.endswith("?") for words in warnings):
        say(f"If so, take the recording away (sidelong runs remove {as_typed(path)}) and ingest the text again.")
